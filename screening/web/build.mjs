/* One bundle a page kind, each a closure of its own; --out names another folder than the committed one. */
import { fileURLToPath } from "node:url";
import { build } from "esbuild";

const here = fileURLToPath(new URL(".", import.meta.url));
const asked = process.argv.indexOf("--out");

const shared = {
  absWorkingDir: here,
  outdir: asked > 0 ? process.argv[asked + 1] : `${here}../report/dist`,
  bundle: true,
  format: "iife",
  target: "es2022",
  charset: "ascii",
  // Names are kept, so that an error that a reader reports can be read.
  minifySyntax: true,
  minifyWhitespace: true,
  legalComments: "inline",
  logLevel: "warning",
};

await build({
  ...shared,
  entryPoints: { lots: "src/lots/main.ts", improvements: "src/improvements/main.ts" },
});
// The map is made by folium: its script calls into this bundle by name, within the closure that holds both.
await build({ ...shared, entryPoints: { map: "src/map/main.ts" }, globalName: "screeningPages" });
