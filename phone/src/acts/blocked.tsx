/** Where nobody may be yet, it is said on every screen that keeps one there. */
import type { Site } from "../sync";
import { isBlocked } from "../walk/taken";
import { sayMoment, t } from "../words";

export function Blocked({ site }: { site: Site | undefined }) {
  if (!site || !isBlocked(site)) return null;
  return (
    <div class="told" role="status">
      <p><strong>{t("Nobody enters before {when}.", { when: sayMoment(site.blocked_until ?? "") })}</strong> {site.blocked_why}</p>
    </div>
  );
}
