/** The service worker: when it acts (when.ts), what it keeps (what.ts), how it keeps and serves it (how.ts). Its own TypeScript project. */
export {};
