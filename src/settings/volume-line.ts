import { quoted } from './show.ts';

/** The line of configuration that would fix or change the guessed project rule: `projects = "*"   # in [[volume]] name = "stripe"`. */
export function renderVolumeLine(guess: { volume: string; projects: string }): string {
  return `projects = ${quoted(guess.projects)}   # in [[volume]] name = ${quoted(guess.volume)}`;
}
