// An answer that was worked out is kept just as it was shown.

import { post } from "/own/ask.js";
import { careful, refresh, say } from "/own/book.js";
import { box, field, main } from "/own/parts.js";

export function keeper(token, words, name, after = () => null) {
  const called = field(words, { maxLength: 80, value: name });
  const part = box(
    called.label,
    main("Save", () =>
      careful(async () => {
        const told = await post("/api/keep", { token, name: called.input.value });
        await refresh();
        part.replaceChildren();
        say(told.words);
        await after(called.input.value);
      }),
    ),
  );
  return part;
}
