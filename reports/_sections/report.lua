-- Equal widths mean that a table fits the line; a page on a screen needs none.
local function fits(tbl)
  for _, spec in ipairs(tbl.colspecs) do
    if spec[2] ~= tbl.colspecs[1][2] then
      return false
    end
  end
  return true
end

-- Shapes tables for Quarto as the embedded engine does: width by content, own scroll box.
function Table(tbl)
  if quarto.doc.is_format("html") or fits(tbl) then
    for index, spec in ipairs(tbl.colspecs) do
      tbl.colspecs[index] = { spec[1], nil }
    end
  end
  if not quarto.doc.is_format("html") then
    return tbl
  end
  for _, row in ipairs(tbl.head.rows) do
    for _, cell in ipairs(row.cells) do
      cell.attr.attributes["scope"] = "col"
    end
  end
  for _, body in ipairs(tbl.bodies) do
    body.row_head_columns = 1
    for _, row in ipairs(body.body) do
      row.cells[1].attr.attributes["scope"] = "row"
    end
  end
  local attributes = { role = "region", tabindex = "0", ["aria-label"] = "Table" }
  return pandoc.Div({ tbl }, pandoc.Attr("", { "table-scroll" }, attributes))
end

-- Keeps a figure's headline, a paragraph of bold text alone, on the page of its figure.
function Para(para)
  local is_headline = #para.content == 1 and para.content[1].t == "Strong"
  if not (is_headline and quarto.doc.is_format("typst")) then
    return nil
  end
  return {
    pandoc.RawBlock("typst", "#block(sticky: true)["),
    para,
    pandoc.RawBlock("typst", "]"),
  }
end

-- Sets the way back to the results in small print.
function Div(div)
  if not (div.classes:includes("result-ids") and quarto.doc.is_format("typst")) then
    return nil
  end
  local opening = '#block(above: 0.5em, below: 1.3em)[#set text(size: 7.5pt, fill: rgb("#595959"))'
  local blocks = { pandoc.RawBlock("typst", opening) }
  for _, block in ipairs(div.content) do
    table.insert(blocks, block)
  end
  table.insert(blocks, pandoc.RawBlock("typst", "]"))
  return blocks
end
