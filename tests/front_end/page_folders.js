// Lets node find page modules as `labkit/front_end/page_modules.py` does: all lie, as it were, in one folder.

import { readdirSync } from "node:fs";
import { register } from "node:module";
import { basename, join } from "node:path";
import { fileURLToPath, pathToFileURL } from "node:url";

const HOUSE = fileURLToPath(new URL("../../labkit", import.meta.url));

function pageModules() {
  const files = readdirSync(HOUSE, { recursive: true }).map((file) => join(HOUSE, String(file)));
  const modules = files.filter((file) => file.endsWith(".js"));
  return new Map(modules.map((file) => [basename(file), pathToFileURL(file).href]));
}

if (!import.meta.url.includes("?hooks")) register(`${import.meta.url}?hooks`);

const found = pageModules();

export function resolve(specifier, context, next) {
  const url = specifier.startsWith("./") ? found.get(specifier.slice(2)) : undefined;
  return url ? { url, format: "module", shortCircuit: true } : next(specifier, context);
}
