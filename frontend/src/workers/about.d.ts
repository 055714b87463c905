/** Work off the page's thread: reading codes, shrinking photos, measuring sharpness. No DOM here: this folder has its own TypeScript project. */
export {};
