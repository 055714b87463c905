import "../../../../frontend/src/parts/icons-later";
import "../../../../frontend/src/fonts.css";
import "../../../../frontend/src/parts/tokens.css";
import "../../../../frontend/src/parts/base.css";
import { mount, tick } from "svelte";
import en from "../../../../shared/words/en.json";
import { useWords, type Words } from "../../../../frontend/src/parts/words";
import Gallery from "./Gallery.svelte";
import { pseudo } from "./pseudo";

// ?scene=route&theme=room&side=left&dir=rtl&words=long : what the tests ask for.
const asked = new URLSearchParams(location.search);
const page = document.documentElement;
page.dataset["theme"] = asked.get("theme") ?? "bench";
page.dir = asked.get("dir") ?? "ltr";
if (asked.get("words") === "long") useWords("en", pseudo(en as Words));

const target = document.getElementById("app");
if (target === null) throw new Error("the gallery has no #app element");
mount(Gallery, { target, props: { scene: asked.get("scene") ?? "route", side: asked.get("side") === "left" ? "left" : "right" } });

// Settled once the faces and pictures are in and two frames have been drawn with them.
async function settle(): Promise<void> {
  await tick();
  await document.fonts.ready;
  await Promise.all([...document.images].map((image) => image.decode().catch(() => undefined)));
  await new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)));
  page.dataset["settled"] = "";
}
void settle();
