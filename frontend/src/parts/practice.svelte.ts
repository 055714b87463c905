/** Whether this window practises, for the frame of every screen: the way out stands where else is said what was sent. */
export const practice = $state<{ leave: (() => void) | undefined }>({ leave: undefined });
