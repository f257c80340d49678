"""Types values into a workbook in a running spreadsheet program and saves it in three forms.

Run by the spreadsheet program's own Python: office_fill.py OFFICE WORKBOOK CELLS.json TARGET.
CELLS maps sheet to a list of [cell, what is typed].
"""

import json
import subprocess
import sys
import time
from pathlib import Path

import uno
from com.sun.star.beans import PropertyValue

FILTERS = {
    "filled.xlsx": ("Calc MS Excel 2007 XML", ""),
    "filled.ods": ("calc8", ""),
    # Separator, quotation mark, UTF-8, first line, as shown, every sheet to its own file.
    "filled.csv": (
        "Text - txt - csv (StarCalc)",
        "44,34,76,1,,0,false,true,false,false,false,-1",
    ),
}


def properties(**values):
    """Return property values of the program's interface."""
    return tuple(PropertyValue(name, 0, value, 0) for name, value in values.items())


def connected(pipe):
    """Return the program's context as soon as it answers."""
    local = uno.getComponentContext()
    resolver = local.ServiceManager.createInstanceWithContext(
        "com.sun.star.bridge.UnoUrlResolver", local
    )
    for _ in range(240):
        try:
            return resolver.resolve(f"uno:pipe,name={pipe};urp;StarOffice.ComponentContext")
        except Exception:  # noqa: BLE001  not up yet; its own classes are made at run time
            time.sleep(0.5)
    raise SystemExit("the spreadsheet program did not answer")


def typed(context, document, cells):
    """Type every value into its cell, as a person at the keyboard does."""
    helper = context.ServiceManager.createInstanceWithContext(
        "com.sun.star.frame.DispatchHelper", context
    )
    controller = document.CurrentController
    for sheet, entries in cells.items():
        controller.setActiveSheet(document.Sheets.getByName(sheet))
        for cell, text in entries:
            helper.executeDispatch(
                controller.Frame, ".uno:GoToCell", "", 0, properties(ToPoint=cell)
            )
            helper.executeDispatch(
                controller.Frame, ".uno:EnterString", "", 0, properties(StringName=text)
            )


def main(office, workbook, cells, target):
    """Open, type, save, close."""
    pipe = f"lengthwise{Path(target).name}{time.monotonic_ns()}"
    program = subprocess.Popen(
        [office, f"-env:UserInstallation=file://{target}/profile", "--headless", "--norestore",
         "--nologo", f"--accept=pipe,name={pipe};urp;"]
    )  # fmt: skip
    try:
        context = connected(pipe)
        desktop = context.ServiceManager.createInstanceWithContext(
            "com.sun.star.frame.Desktop", context
        )
        document = desktop.loadComponentFromURL(Path(workbook).as_uri(), "_blank", 0, ())
        typed(context, document, json.loads(Path(cells).read_text(encoding="utf-8")))
        for name, (form, options) in FILTERS.items():
            document.storeToURL(
                (Path(target) / name).as_uri(),
                properties(FilterName=form, FilterOptions=options),
            )
        document.close(True)
        desktop.terminate()
        program.wait(60)
    finally:
        program.kill()


if __name__ == "__main__":
    main(*sys.argv[1:])
