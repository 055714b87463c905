/** What lies in the browser's database, version 1. Every read-write transaction is strict (store.ts). */
import type { DBSchema } from "idb";
import type { Clock, PhotoName, PhotoType, Sha256 } from "./entry";

export interface Epoch {
  readonly n: number;
  readonly id: string;
}

/** This browser as a station. `token` authenticates sending, never a person. */
export interface StationRow {
  readonly station: string;
  readonly token: string;
  readonly facility: unknown;
}

/** The chain this station writes now. The private key cannot leave the browser. */
export interface ChainRow {
  readonly chain: Sha256;
  readonly key: CryptoKey;
}

/** A chain that ended here: what was unsent in it is still sent, signed with its own key. */
export interface OldChainRow extends ChainRow {
  readonly head: Head;
  readonly why: string;
}

/** A key made before the server was asked for a new chain, kept so that a lost answer makes no second one. */
export interface PendingChainRow extends ChainRow {
  readonly publicKey: string;
  readonly old: { readonly chain: Sha256; readonly seq: number; readonly hash?: Sha256 };
  readonly why: string;
}

export interface Head {
  readonly seq: number;
  readonly hash: Sha256;
}

/** The keys of `meta` and what each holds. */
export interface Meta {
  readonly station: StationRow;
  readonly chain: ChainRow;
  readonly head: Head;
  readonly epoch: Epoch;
  readonly clock: Clock;
  readonly old_chains: readonly OldChainRow[];
  readonly pending_chain: PendingChainRow;
  readonly pending_enrol: { readonly key: CryptoKey; readonly chain: Sha256; readonly publicKey: string };
  readonly backed_up_seq: number;
  readonly persisted: boolean;
  readonly cards: { readonly position: number; readonly epoch: string; readonly at: string };
  readonly pinned: { readonly policy?: Sha256; readonly catalogue?: Sha256; readonly frequency?: Sha256 };
  readonly pin_key: CryptoKey;
  readonly last_person: string;
  /** The hash of the place on screen: an app started anew comes back to it. */
  readonly place: string;
}

/**
 * One entry. `thread` is the begun entry of its inspection part (its own hash for `inspection.begun`),
 * or the chain for entries that name no inspection. `waiting` is there until a receipt repeats the hash.
 */
export interface EntryRow {
  readonly chain: Sha256;
  readonly seq: number;
  readonly hash: Sha256;
  readonly line: Uint8Array<ArrayBuffer>;
  readonly kind: string;
  readonly at: string;
  /** Milliseconds since 1970 of this tablet's clock at the save; orders "oldest unsent" only. */
  readonly ms: number;
  readonly thread: Sha256;
  readonly scope?: string;
  readonly photos: readonly PhotoName[];
  readonly waiting?: 1;
}

/** Photo bytes alone, never written twice. An ArrayBuffer: a Blob may read back empty. */
export interface PhotoRow {
  readonly sha256: Sha256;
  readonly bytes: ArrayBuffer;
  readonly type: PhotoType;
}

/** What is known of a photo's way: beside the bytes, so that a receipt does not write them again. */
export interface HeldRow {
  readonly sha256: Sha256;
  readonly bytes: number;
  readonly chain: Sha256;
  readonly seq: number;
  readonly ms: number;
  readonly waiting?: 1;
  /** Here only after a receipt; freed when room is needed. */
  readonly receipt?: { readonly epoch: string; readonly at: string };
  /** The bytes no longer have their hash: they cannot be sent; told on the status page. */
  readonly damaged?: 1;
  /** The bytes left this tablet after the receipt. */
  readonly freed?: 1;
  /** Why the server did not take it when it was last sent: its own code. It is sent again all the same. */
  readonly refused?: string;
}

export interface ReceiptRow {
  readonly chain: Sha256;
  readonly seq: number;
  readonly hash: Sha256;
  readonly state: "stored" | "already" | "stray";
  readonly verdict: "counted" | "aside";
  readonly reason?: string;
  readonly epoch: string;
  readonly at: string;
}

export interface DraftRow {
  readonly id: string;
  readonly ms: number;
  readonly person?: string;
  readonly value: unknown;
  readonly photos: readonly DraftPhotoRow[];
}

export interface DraftPhotoRow {
  readonly sha256: Sha256;
  readonly bytes: ArrayBuffer;
  readonly type: PhotoType;
  readonly width: number;
  readonly height: number;
  readonly shows: PhotoName["shows"];
  readonly taken?: NonNullable<PhotoName["taken"]>;
}

/** A row of what the tablet carries; `words` are what it can be found by. */
export interface CardRow {
  readonly table: string;
  readonly id: string;
  readonly words: readonly string[];
  readonly row: unknown;
}

/** An inspection part of this tablet that is not closed. */
export interface OpenRow {
  readonly begun: Sha256;
  /** The whole inspection, where this part goes on with one begun elsewhere. */
  readonly root?: Sha256;
  /** Its end was taken back here: only this tablet says when it ends. */
  readonly reopened?: 1;
  /** The server said that another tablet concluded the inspection. */
  readonly elsewhere?: 1;
  readonly chain: Sha256;
  readonly seq: number;
  readonly scope: string;
  readonly at: string;
}

export interface Loupebook extends DBSchema {
  meta: { key: string; value: Meta[keyof Meta] };
  entries: {
    key: [Sha256, number];
    value: EntryRow;
    indexes: {
      hash: Sha256;
      thread: [Sha256, number];
      scope: [string, number];
      waiting: [number, number];
    };
  };
  photos: { key: Sha256; value: PhotoRow };
  held: { key: Sha256; value: HeldRow; indexes: { waiting: [number, number]; damaged: number } };
  receipts: { key: [Sha256, number]; value: ReceiptRow; indexes: { state: string; verdict: string } };
  drafts: { key: string; value: DraftRow };
  cards: { key: [string, string]; value: CardRow; indexes: { words: string } };
  pins: { key: Sha256; value: string };
  open: { key: Sha256; value: OpenRow };
}

export const VERSION = 1;
export type StoreName = "meta" | "entries" | "photos" | "held" | "receipts" | "drafts" | "cards" | "pins" | "open";
