// Builds the app into src/tepal/serve/static/phone (or the folder given). esbuild by its JS API: its install script
// is never run. Prints one JSON object with the size of each file, plain and gzipped.
import { createHash } from "node:crypto";
import { cp, mkdir, readFile, readdir, rename, rm, writeFile } from "node:fs/promises";
import { dirname, join, relative } from "node:path";
import { fileURLToPath } from "node:url";
import { gzipSync } from "node:zlib";
import * as esbuild from "esbuild";
import { bringTables } from "./tables.mjs";

const here = dirname(fileURLToPath(import.meta.url));
const place = process.argv[2] ?? join(here, "..", "src", "tepal", "serve", "static", "phone");
// Beside its place first, so that a server never gives out half an app.
const out = `${place}.new-${process.pid}`;

await rm(out, { recursive: true, force: true });
await mkdir(out, { recursive: true });
const common = {
  bundle: true,
  minify: true,
  target: "es2022",
  format: "esm",
  jsx: "automatic",
  jsxImportSource: "preact",
  legalComments: "none",
  logLevel: "warning",
  absWorkingDir: here,
};
await esbuild.build({
  ...common,
  entryPoints: { app: "src/main.tsx", ink: "src/ink.css" },
  outdir: out,
  loader: { ".woff2": "file", ".png": "file", ".svg": "text" },
  assetNames: "[name]",
});
for (const page of ["index.html", "manifest.webmanifest", "icon.svg"]) await cp(join(here, "src", page), join(out, page));
await cp(join(here, "src", "icons"), out, { recursive: true });
await bringTables(out);

// The worker knows the files by name, and its version is their content: a change of one is a new version.
const files = (await readdir(out, { recursive: true, withFileTypes: true }))
  .filter((entry) => entry.isFile())
  .map((entry) => relative(out, join(entry.parentPath, entry.name)))
  .sort();
const hash = createHash("sha256");
for (const file of files) hash.update(file).update(await readFile(join(out, file)));
const version = hash.digest("hex").slice(0, 16);
await esbuild.build({
  ...common,
  entryPoints: { worker: "src/worker.ts" },
  outdir: out,
  define: { VERSION: JSON.stringify(version), FILES: JSON.stringify(["./", ...files.filter((f) => f !== "index.html")]) },
});

const sizes = {};
for (const file of [...files, "worker.js"].sort()) {
  const bytes = await readFile(join(out, file));
  sizes[file] = { bytes: bytes.length, gzipped: gzipSync(bytes, { level: 9 }).length };
}
const sources = process.env.TEPAL_SOURCES ?? null;
await writeFile(join(out, "version.json"), JSON.stringify({ version, sources }) + "\n");
await rm(place, { recursive: true, force: true });
await rename(out, place);
console.log(JSON.stringify({ version, sizes }));
