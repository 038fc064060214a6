/** Photos and voice notes to the office, resumable: it says how much it holds, and the phone goes on from there. */
import { type Picture, changed, open } from "../store";
import { Refusal, ask } from "./office";

const PART = 256 * 1024;

export async function pushPictures(): Promise<void> {
  const db = await open();
  for (const sha of await db.getAllKeys("photos")) {
    const picture = await db.get("photos", sha);
    if (picture === undefined || picture.state === "refused") continue;
    try {
      await push(picture);
    } catch (problem) {
      if (!(problem instanceof Refusal) || [401, 403, 404].includes(problem.status)) throw problem;
      await db.put("photos", { ...picture, state: "refused", problem: problem.problem });
      changed("photos");
    }
  }
}

const address = ({ type, sha256 }: Picture): string => `${type.startsWith("audio/") ? "sounds" : "photos"}/${sha256}`;

async function held(picture: Picture): Promise<{ offset: number; complete: boolean }> {
  const answer = await ask(address(picture), { method: "HEAD" }, [200, 204, 404]);
  if (answer.status === 404) return { offset: 0, complete: false };
  return { offset: offsetOf(answer) ?? 0, complete: answer.headers.get("Upload-Complete") === "?1" };
}

function offsetOf(answer: Response): number | undefined {
  const told = answer.headers.get("Upload-Offset");
  return told !== null && /^\d+$/.test(told) ? Number(told) : undefined;
}

async function push(picture: Picture): Promise<void> {
  const db = await open();
  let { offset, complete } = await held(picture);
  let disagreed = 0;
  while (!complete) {
    const end = Math.min(offset + PART, picture.size);
    const last = end === picture.size;
    const answer = await ask(
      address(picture),
      {
        method: "PATCH",
        body: picture.blob.slice(offset, end),
        headers: {
          "Content-Type": "application/partial-upload",
          "Upload-Offset": String(offset),
          "Upload-Complete": last ? "?1" : "?0",
        },
      },
      [200, 201, 204, 409],
    );
    const told = offsetOf(answer);
    if (answer.status === 409 && ++disagreed > 5) throw new Error("The office and the phone do not agree how much of a picture is there.");
    complete = answer.status !== 409 && last;
    offset = told ?? (answer.status === 409 ? (await held(picture)).offset : end);
    if (!complete) await db.put("photos", { ...picture, sent: offset });
    changed("photos");
  }
  // The office has it under its own hash: the phone's copy has done its work.
  await db.delete("photos", picture.sha256);
  changed("photos");
}
