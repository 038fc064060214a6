/**
 * One screen is one module with `export function Screen(props: ScreenProps)`; `routes.ts` gives it a name.
 * The address is `#/name?site=…`, so that back, reload and a restarted browser find the same screen.
 */
import type { ComponentType } from "preact";
import { useLayoutEffect, useState } from "preact/hooks";
import { routes } from "./routes";

export interface ScreenProps {
  params: Readonly<Record<string, string>>;
}

export interface Address {
  name: string;
  params: Readonly<Record<string, string>>;
}

function address(hash: string): Address {
  const [name, query] = hash.replace(/^#\/?/, "").split("?");
  return { name: name || "today", params: Object.fromEntries(new URLSearchParams(query ?? "")) };
}

/** `href("stop", { walk })` for a link. */
export function href(name: string, params: Record<string, string | undefined> = {}): string {
  const given = Object.entries(params).filter((pair): pair is [string, string] => pair[1] !== undefined);
  const query = new URLSearchParams(given).toString();
  return `#/${name}${query ? `?${query}` : ""}`;
}

/** Goes to a screen; with `instead` the present one is not kept for going back. */
export function go(name: string, params: Record<string, string | undefined> = {}, instead = false): void {
  if (instead) location.replace(href(name, params));
  else location.hash = href(name, params);
}

export function Router() {
  const [hash, setHash] = useState(location.hash);
  // Before the first paint, and looking once more: who moves on while the app starts is followed too.
  useLayoutEffect(() => {
    const moved = () => {
      setHash(location.hash);
      scrollTo(0, 0);
    };
    addEventListener("hashchange", moved);
    setHash(location.hash);
    return () => removeEventListener("hashchange", moved);
  }, []);
  const at = address(hash);
  const Screen: ComponentType<ScreenProps> = routes[at.name] ?? routes["today"]!;
  return <Screen key={hash} params={at.params} />;
}
