// Brings the compiled tables (docs/compiled-tables.md) into the app as files: `data/tables.json`, `texts.LANGUAGE.json`,
// and one `plates.json` for all languages: the drawings once, without what the style sheet knows, and their words beside.
import { execFile } from "node:child_process";
import { existsSync } from "node:fs";
import { mkdir, mkdtemp, readFile, rm, writeFile } from "node:fs/promises";
import { tmpdir } from "node:os";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";
import { promisify } from "node:util";

export const LANGUAGES = ["en", "es"];
const root = join(dirname(fileURLToPath(import.meta.url)), "..");

/** Python that has Tepal's libraries: the one that TEPAL_PYTHON names, else that of the project's .venv. */
function pythonOf() {
  const own = process.platform === "win32" ? join(root, ".venv", "Scripts", "python.exe") : join(root, ".venv", "bin", "python");
  return process.env.TEPAL_PYTHON ?? (existsSync(own) ? own : "python3");
}

/** A folder as `tepal plant --compile` writes it: the one that TEPAL_TABLES names, else made anew. */
async function compiled() {
  if (process.env.TEPAL_TABLES) return { folder: process.env.TEPAL_TABLES, done: async () => undefined };
  const folder = await mkdtemp(join(tmpdir(), "tepal-tables-"));
  const path = [join(root, "src"), process.env.PYTHONPATH].filter(Boolean).join(process.platform === "win32" ? ";" : ":");
  await promisify(execFile)(pythonOf(), ["-m", "tepal", "plant", "--compile", folder], { env: { ...process.env, PYTHONPATH: path } });
  return { folder, done: () => rm(folder, { recursive: true }) };
}

export async function bringTables(out) {
  const { folder, done } = await compiled();
  try {
    const read = async (name) => JSON.parse(await readFile(join(folder, name), "utf8"));
    const tables = await read("tables.json");
    const files = { "tables.json": tables };
    for (const language of LANGUAGES) files[`texts.${language}.json`] = await read(`texts.${language}.json`);
    const plates = {};
    for (const language of LANGUAGES) plates[language] = (await read(`plates.${language}.json`)).plates;
    files["plates.json"] = together(plates, tables.characters);
    await mkdir(join(out, "data"), { recursive: true });
    for (const [name, value] of Object.entries(files)) await writeFile(join(out, "data", name), JSON.stringify(value));
  } finally {
    await done();
  }
}

/** `svg`: character → state → drawing with blanks {0}, {1}… for its words; by language: the words, the alternative text first. */
function together(plates, characters) {
  const found = { svg: {}, words: Object.fromEntries(LANGUAGES.map((language) => [language, {}])) };
  for (const [name, told] of Object.entries(characters)) {
    if (!told.look) continue;
    // What is measured on the plant is shown once; its usual length would only lead the eye.
    for (const state of told.states ?? ["usual"]) {
      const shown = Object.fromEntries(LANGUAGES.map((language) => [language, bare(plates[language][name][state], !told.states)]));
      const [first, ...others] = LANGUAGES.map((language) => shown[language].svg);
      if (others.some((svg) => svg !== first)) throw new Error(`The drawing of ${name}, ${state} differs between languages.`);
      (found.svg[name] ??= {})[state] = first;
      for (const language of LANGUAGES) (found.words[language][name] ??= {})[state] = [shown[language].alt, ...shown[language].words];
    }
  }
  return found;
}

const TEXT = /<text([^>]*)>([^<]*)<\/text>/g;

function bare({ svg, alt }, isMeasure) {
  const words = [];
  const count = [...svg.matchAll(TEXT)].length;
  let at = 0;
  const plain = svg
    .replace(/<title>.*?<\/title>|<desc>.*?<\/desc>/g, "")
    .replace(/ (aria-label|role|xmlns|font-family|data-part|stroke-linecap|stroke-linejoin)="[^"]*"/g, "")
    .replace(/ (fill|stroke)="#[0-9a-f]+"/g, "")
    .replace(TEXT, (_, attributes, text) => {
      at += 1;
      // Of a measure stay the letters of its lengths, and the scale, which comes last.
      if (isMeasure && at < count && text.length > 1) return "";
      words.push(text);
      return `<text${attributes}>{${words.length - 1}}</text>`;
    });
  return { svg: plain, alt, words };
}
