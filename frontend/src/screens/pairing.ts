/** A screen that takes the next scope that is scanned for itself, instead of being left for it. */
let takes: ((scope: string) => void) | undefined;

/** From now on scanned scopes come here; the answer ends it. */
export function takeScopes(how: (scope: string) => void): () => void {
  takes = how;
  return () => {
    if (takes === how) takes = undefined;
  };
}

/** Whether a screen took this scope. */
export function tookScope(scope: string): boolean {
  takes?.(scope);
  return takes !== undefined;
}
