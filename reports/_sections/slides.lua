-- Quarto wraps what a cell prints in blocks of its own. Slides are read off the top level
-- of a document, so notes and columns inside such a block would be lost: it is taken away.
local function is_wrapper(classes)
  for _, class in ipairs(classes) do
    if class == "cell" or class:match("^cell%-output") then return true end
  end
  return false
end

return {
  {
    Div = function(block)
      if FORMAT == "pptx" and is_wrapper(block.classes) then return block.content end
    end,
  },
}
