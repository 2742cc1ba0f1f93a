import { byId } from "./dom";

/** rooms: the light of the room the page is read in. Dark keeps the eye used to the table. */
export function theme(): void {
  const b = byId<HTMLButtonElement>("theme");
  const show = (room: string): void => {
    document.documentElement.dataset.room = room;
    b.textContent = room === "dark" ? "Bright room" : "Dark room";
  };
  const wanted = localStorage.getItem("hidechart.room");
  show(wanted ?? (matchMedia("(prefers-color-scheme: dark)").matches ? "dark" : "bright"));
  b.addEventListener("click", () => {
    const room = document.documentElement.dataset.room === "dark" ? "bright" : "dark";
    localStorage.setItem("hidechart.room", room);
    show(room);
  });
}
