/** Put in by the build: the build's id (changes with any source of the screens) and the version. */
declare const __BUILD__: string;
declare const __VERSION__: string;
