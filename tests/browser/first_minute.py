"""What stands on a page before its first field, as somebody reads it from the top."""

# Everything that is seen before the first field of the exercise in focus, in the page's order. On a
# wide page the list of exercises stands at the side: nobody reads it to get to the question.
BEFORE_THE_FIRST_FIELD = """() => {
  const fields = 'input, select, textarea, [role="switch"], [role="slider"], .lk-area button';
  const field = document.querySelector('.pg-stage .lk-exercise').querySelector(fields);
  const atTheSide = innerWidth >= 1100 ? document.querySelector('.pg-way') : null;
  const words = [];
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node = walker.nextNode(); node; node = walker.nextNode()) {
    if (!(node.compareDocumentPosition(field) & Node.DOCUMENT_POSITION_FOLLOWING)) break;
    const parent = node.parentElement;
    if (atTheSide?.contains(node) || parent.closest('.pg-skip, .pg-spoken')) continue;
    if (!parent.checkVisibility()) continue;
    words.push(...node.data.split(/\\s+/).filter((word) => /[\\p{L}\\p{N}]/u.test(word)));
  }
  return words;
}"""
