// The way to the desk: the key, requests, and the stream of events.

const KEPT = "desk-key";

export class Refused extends Error {
  constructor(status, told) {
    super(told.error ?? `refused (${status})`);
    this.status = status;
    this.told = told;
  }
}

// The key of this window: exchanged for the token in the address, or kept from before a reload.
export async function letIn() {
  const token = location.hash.slice(1);
  if (token && !document.getElementById(token)) { // else it is a place of this page
    history.replaceState(null, "", "/");
    const told = await asked("POST", "/api/enter", { token }).catch(() => null);
    if (told) sessionStorage.setItem(KEPT, told.key);
  }
  return sessionStorage.getItem(KEPT) !== null;
}

export async function asked(method, path, body) {
  const headers = { "Desk-Key": sessionStorage.getItem(KEPT) ?? "" };
  if (method === "POST") headers["Content-Type"] = "application/json";
  const reply = await fetch(path, {
    method,
    headers,
    body: method === "POST" ? JSON.stringify(body ?? {}) : undefined,
    cache: "no-store",
    credentials: "omit",
    redirect: "error",
    referrerPolicy: "no-referrer",
  }).catch(() => { throw new Error("the desk does not answer"); });
  const told = await reply.json().catch(() => ({}));
  if (!reply.ok) throw new Refused(reply.status, told);
  return told;
}

const SILENCE = 20000; // ms after which a stream is thought lost: there is a sign of life every 5 s
const AGAIN = [300, 1000, 2000, 5000]; // ms to the next try

// Events for as long as this window is open. heard: one event; state: "open", "lost" or "shut out".
export async function listen(heard, state) {
  let tries = 0;
  for (;;) {
    const stop = new AbortController();
    let last = Date.now();
    const watch = setInterval(() => {
      if (Date.now() - last > SILENCE) stop.abort();
    }, 1000);
    try {
      const reply = await fetch("/api/stream", {
        headers: { "Desk-Key": sessionStorage.getItem(KEPT) ?? "" },
        cache: "no-store",
        credentials: "omit",
        signal: stop.signal,
      });
      if (reply.status === 401) {
        state("shut out");
        return;
      }
      if (!reply.ok) throw new Error(String(reply.status));
      state("open");
      tries = 0;
      const reader = reply.body.getReader();
      const letters = new TextDecoder();
      let line = "";
      for (;;) {
        const { done, value } = await reader.read();
        if (done) break;
        last = Date.now();
        line += letters.decode(value, { stream: true });
        const lines = line.split("\n");
        line = lines.pop();
        for (const each of lines) if (each) heard(JSON.parse(each));
      }
    } catch {
      // said below; the next try may find the desk again
    } finally {
      clearInterval(watch);
    }
    state("lost");
    await new Promise((wake) => setTimeout(wake, AGAIN[Math.min(tries, AGAIN.length - 1)]));
    tries += 1;
  }
}
