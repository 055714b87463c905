/**
 * The words that the first screen does not say (in a build; see build/words.ts). Every file that is loaded by a
 * dynamic import and says more imports this one, so that its words are there before it runs; a test holds it to that.
 */
import en from "../../../shared/words/en.json";
import "./icons-later";
import { addWords } from "./words";

addWords(en);
