/** Trying functions one by one: shared by the list at acceptance and the things before use. One tap, one entry. */
import type { IconName } from "../parts/icons";
import { opening } from "../parts/naming";
import type { Tone } from "../parts/types";
import { say, type Key } from "../parts/words";
import { here } from "./here.svelte";
import type { FunctionResult, Inspection } from "./inspection.svelte";
import { Saving } from "./saving.svelte";
import { undo } from "./undo.svelte";

export interface FunctionAnswer {
  readonly id: FunctionResult;
  readonly label: string;
  readonly tone: Tone;
  readonly icon: IconName;
}

export const functionAnswers = (): readonly FunctionAnswer[] => [
  { id: "works", label: say("function.works"), tone: "seen", icon: "nothing_found" },
  { id: "weak", label: say("function.weak"), tone: "find", icon: "finding" },
  { id: "does_not_work", label: say("function.does_not_work"), tone: "stop", icon: "out_of_use" },
  { id: "not_checked", label: say("function.not_checked"), tone: "gap", icon: "could_not_look" },
];

export const checkName = (check: string): string => say(`check.${check}` as Key);
export const checkNote = (check: string): string => say(`check.${check}.note` as Key);

/** The answer of a function as it stands, or undefined. */
export function resultOf(inspection: Inspection, check: string): FunctionResult | undefined {
  return inspection.tried(check)?.body["result"] as FunctionResult | undefined;
}

export class Trying {
  /** The function whose "not tried" still needs its reason. */
  asking = $state<string>();
  /** The function answered last, to which words or a photo can be added. */
  last = $state<string>();
  readonly saving = new Saving();

  constructor(readonly inspection: Inspection) {}

  /** True once it is saved; "not tried" waits for its reason first. */
  async answer(check: string, result: FunctionResult, reason?: string): Promise<boolean> {
    if (result === "not_checked" && reason === undefined) {
      this.asking = check;
      return false;
    }
    return this.saving.inTurn(`${check} ${result}`, async () => {
      const before = this.inspection.tried(check)?.hash;
      const saved = await this.inspection.function(here.by(), check, result, reason);
      this.asking = undefined;
      this.last = result === "works" ? undefined : check;
      const did = functionAnswers().find((each) => each.id === result)?.label.toLocaleLowerCase() ?? "";
      undo.offer({ hash: before ?? saved.hash, what: opening(checkName(check)), did, part: undefined });
      here.tell(say("saved.said", { what: checkName(check), did }));
    });
  }

  note(check: string, words: string): Promise<boolean> {
    return this.saving.run(async () => {
      await this.inspection.aboutFunction(here.by(), check, words);
      this.last = undefined;
      here.tell(say("saved.said", { what: checkName(check), did: say("function.note").toLocaleLowerCase() }));
    });
  }

  /** Takes back what was saved last, all entries of it. */
  takeBack(): Promise<boolean> {
    return this.saving.run(async () => {
      const { last } = undo;
      if (last === undefined) return;
      for (const hash of [last.hash, ...(last.more ?? [])]) await this.inspection.withdraw(here.by(), hash);
      undo.clear();
      this.last = undefined;
    });
  }
}
