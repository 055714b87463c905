/** How old what this tablet knows is; set by `fetch.ts`, read by every screen. */
import { type Readable, Told } from "../record/readable";
import type { CardsAt } from "./rows";

const told = new Told<CardsAt>({ position: 0, at: undefined, stopped: undefined });
/** How old what this tablet knows is, and why it is not newer. */
export const cardsAt: Readable<CardsAt> = told;

/** For the fetch alone. */
export const tellCardsAt = (at: CardsAt): void => told.set(at);
export const lastCardsAt = (): CardsAt => told.value;
