/** Always in sight: whether everything is with the office, or how much is still on this phone alone. */
import { href } from "../router";
import { open, useLive } from "../store";
import { plural, t } from "../words";

export function Kept() {
  const count = useLive(async () => {
    const db = await open();
    const [outbox, photos] = await Promise.all([db.getAll("outbox"), db.count("photos")]);
    const refused = outbox.filter((unsent) => unsent.state === "refused").length;
    const unsent = outbox.filter((one) => one.state === "unsent").length;
    return { waiting: unsent + photos, refused };
  }, ["outbox", "photos"]);
  if (count === undefined) return <a class="kept" href={href("unsent")}>{t("Kept")}</a>;
  const said =
    count.refused > 0
      ? plural("{n} refused", "{n} refused", count.refused)
      : count.waiting > 0
        ? plural("{n} to send", "{n} to send", count.waiting)
        : t("All sent");
  return <a class={count.refused > 0 ? "kept soon" : "kept"} href={href("unsent")}>{said}</a>;
}
