/**
 * The frame of a screen says which file drew it (`data-screen="screens/route"`): nothing is written by hand, so a new
 * screen is known as soon as there is one, and a test can ask whether it was ever looked at.
 * @type {import("svelte/compiler").PreprocessorGroup}
 */
const named = {
  name: "loupebook:screens-named",
  markup({ content, filename = "" }) {
    const file = /\/src\/((?:screens|lead)\/[\w-]+)\.svelte$/.exec(filename.replaceAll("\\", "/"))?.[1];
    return file === undefined ? undefined : { code: content.replaceAll(/<(?:Frame|Shell)\b(?! \{screen\})/g, `$& screen="${file}"`) };
  },
};

/** @type {import('@sveltejs/vite-plugin-svelte').SvelteConfig} */
export default {
  preprocess: [named],
  compilerOptions: {
    runes: true,
  },
};
