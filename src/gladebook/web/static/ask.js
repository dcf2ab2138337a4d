// Questions to the program on this computer.

export class Refused extends Error {
  constructor(told, status) {
    super(told.error ?? "Something went wrong in the program. Load the page anew.");
    this.told = told;
    this.status = status;
  }
}

const SILENT = "The program does not answer. Is it still running? What you drew is still here.";

export async function ask(path, { method = "GET", body = null, file = null } = {}) {
  const headers = file || body === null ? {} : { "content-type": "application/json" };
  let answer;
  try {
    answer = await fetch(path, { method, headers, body: file ?? (body === null ? null : JSON.stringify(body)) });
  } catch {
    throw new Error(SILENT);
  }
  const told = await answer.json().catch(() => ({}));
  if (!answer.ok) {
    throw new Refused(told, answer.status);
  }
  return told;
}

export const post = (path, body = {}) => ask(path, { method: "POST", body });
export const send = (path, file) => ask(path, { method: "POST", file });

// Lines of JSON come in as the work goes on; the last one is the answer. Null where it was stopped.
export async function streamed(path, body, { signal, tell }) {
  try {
    const answer = await fetch(path, {
      method: "POST",
      headers: { "content-type": "application/json" },
      body: JSON.stringify(body),
      signal,
    });
    if (!answer.ok) {
      throw new Refused(await answer.json().catch(() => ({})), answer.status);
    }
    const reader = answer.body.pipeThrough(new TextDecoderStream()).getReader();
    let rest = "";
    for (;;) {
      const { value, done } = await reader.read();
      rest += value ?? "";
      const lines = rest.split("\n");
      rest = lines.pop();
      for (const line of lines) {
        const told = JSON.parse(line);
        if (told.error) {
          throw new Refused(told, 422);
        }
        if (told.answer) {
          return told.answer;
        }
        tell(told);
      }
      if (done) {
        throw new Error("The answer broke off. Do it again.");
      }
    }
  } catch (error) {
    if (error.name === "AbortError") {
      return null;
    }
    throw error instanceof TypeError ? new Error(SILENT) : error;
  }
}
