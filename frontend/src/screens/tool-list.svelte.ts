/** The borescopes known here, read anew whenever anything of them changes. */
import { untrack } from "svelte";
import { type Tool, toolsKnown } from "../cards";
import { until } from "../parts/settled";
import { say } from "../parts/words";
import { onChange } from "../record";
import { mmOfUm } from "../rules/units";
import { clockTime, shortDate } from "../parts/names";
import { here } from "./here.svelte";

export class ToolList {
  all = $state.raw<readonly Tool[]>([]);
  asked = $state(false);
  readonly #stop: () => void;

  constructor() {
    untrack(() => void this.read()); // else every change of the cards makes a new list, and a form beside it begins anew
    this.#stop = onChange((thing) => {
      if (thing === "cards" || thing === "entries") void this.read();
    });
  }

  end(): void {
    this.#stop();
  }

  async read(): Promise<void> {
    this.all = await until(toolsKnown(here.me?.place));
    this.asked = true;
  }

  of(tool: string | undefined): Tool | undefined {
    return tool === undefined ? undefined : this.all.find((each) => each.tool === tool);
  }
}

/** "1.9 mm · 1.90 m", as far as it is on record. */
export function sizeWords(tool: Tool): string {
  const width = tool.width_um === null ? say("channel.no_width") : say("channel.mm", { mm: mmOfUm(tool.width_um) });
  const length = tool.length_mm === null ? say("channel.no_length") : say("channel.m", { m: metres(tool.length_mm) });
  return `${width} · ${length}`;
}

/** Whole centimetres as metres: 1900 mm -> "1.90". */
export function metres(mm: number): string {
  const cm = Math.round(mm / 10);
  return `${Math.floor(cm / 100)}.${String(cm % 100).padStart(2, "0")}`;
}

/** Whether it owes processing, and since when. */
export function owesWords(tool: Tool): string {
  const when = (ms: number): string => `${shortDate(ms, new Date(here.now))} ${clockTime(ms)}`;
  if (tool.owes && tool.used_ms !== null) return say("tools.owes", { when: when(tool.used_ms) });
  return tool.processed_ms === null ? say("tools.not_used") : say("tools.processed_at", { when: when(tool.processed_ms) });
}
