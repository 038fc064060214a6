/** Screens follow the store: whoever changes it says so, and every open screen asks again, in every tab. */
import { useEffect, useState } from "preact/hooks";

export type Topic = "entries" | "outbox" | "photos" | "voices" | "track" | "drafts" | "today" | "settings" | "sync";

const bus = new EventTarget();
const channel = new BroadcastChannel("tepal-store");
channel.onmessage = (event: MessageEvent<Topic[]>) => tell(event.data);

function tell(topics: Topic[]): void {
  bus.dispatchEvent(new CustomEvent("changed", { detail: topics }));
}

export function changed(...topics: Topic[]): void {
  tell(topics);
  channel.postMessage(topics);
}

/** Calls `heard` at every change of the topics; returns how to stop. */
export function listen(topics: Topic[], heard: () => void): () => void {
  const hear = (event: Event) => {
    if ((event as CustomEvent<Topic[]>).detail.some((topic) => topics.includes(topic))) heard();
  };
  bus.addEventListener("changed", hear);
  return () => bus.removeEventListener("changed", hear);
}

/** The answer of `query`, asked again whenever one of the topics (or `inputs`) changes; undefined until the first. */
export function useLive<T>(query: () => Promise<T>, topics: Topic[], inputs: unknown[] = []): T | undefined {
  const [answer, setAnswer] = useState<T>();
  useEffect(() => {
    let here = true;
    let number = 0;
    const ask = () => {
      const mine = ++number;
      // A slow answer to an older question must not overwrite a newer one.
      query().then(
        (found) => here && mine === number && setAnswer(() => found),
        (problem: unknown) => console.error(problem),
      );
    };
    ask();
    const stop = listen(topics, ask);
    return () => {
      here = false;
      stop();
    };
  }, inputs);
  return answer;
}
