/* Hands a text to the reader as a file; nothing leaves the computer. */
import { node } from "./dom";

const KEPT_MS = 10_000;

export function saveFile(name: string, type: string, text: string): void {
  const link = node("a");
  link.href = URL.createObjectURL(new Blob([text], { type }));
  link.download = name;
  document.body.append(link);
  link.click();
  link.remove();
  window.setTimeout(() => URL.revokeObjectURL(link.href), KEPT_MS);
}
