/** step of a pan, as a share of what is seen. */
const panStep = 0.12;

/**
 * keys sends what is typed to act. In a field, a dialog or a menu keys keep
 * their usual meaning. On the picture the arrows pan. Single letters can be turned off (WCAG 2.1, success
 * criterion 2.1.4).
 */
export function keys(picture: HTMLElement, act: (key: string) => boolean, pan: (dx: number, dy: number) => void): void {
  document.addEventListener("keydown", (e) => {
    const t = e.target as HTMLElement;
    if (document.querySelector("dialog[open]") || t.isContentEditable) return;
    if (["TEXTAREA", "SELECT"].includes(t.tagName) || (t.tagName === "INPUT" && e.key !== "Escape")) {
      if (e.key === "Escape") picture.focus();
      return;
    }
    const letters = localStorage.getItem("hidechart.keys") !== "off";
    let key = e.key;
    if ((e.ctrlKey || e.metaKey) && !e.altKey) {
      if (key.toLowerCase() === "z") key = e.shiftKey ? "Z" : "z";
      else if (key.toLowerCase() === "y") key = "Z";
      else return;
    } else if (e.altKey || (!letters && key.length === 1 && key !== " ")) {
      return;
    }
    const onPicture = t === picture || picture.contains(t);
    const arrows: Record<string, [number, number]> = { ArrowLeft: [-panStep, 0], ArrowRight: [panStep, 0], ArrowUp: [0, -panStep], ArrowDown: [0, panStep] };
    if (onPicture && arrows[key]) {
      pan(...arrows[key]);
      e.preventDefault();
      return;
    }
    if ((key === " " || key === "Enter") && (t.tagName === "BUTTON" || t.tagName === "A" || t.tagName === "SUMMARY")) return;
    if (act(/^[A-Y]$/.test(key) ? key.toLowerCase() : key)) e.preventDefault();
  });
}
