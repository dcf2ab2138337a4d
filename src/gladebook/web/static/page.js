// The page: five buttons, one panel, one line that says what happened.

import { book, careful, refresh, say, take } from "/own/book.js";
import { drivePanel } from "/own/drive.js";
import { letIn, listPlots, undo } from "/own/plots.js";
import { tankPanel } from "/own/tank.js";
import { traceNew, tracedBack } from "/own/tracing.js";

const $ = (id) => document.getElementById(id);

$("go-plots").addEventListener("click", () =>
  careful(async () => {
    await refresh();
    listPlots();
  }),
);
$("go-trace").addEventListener("click", () => traceNew());
$("go-tank").addEventListener("click", () => careful(tankPanel));
$("go-drive").addEventListener("click", () => careful(drivePanel));
$("go-undo").addEventListener("click", () => {
  if (!tracedBack()) {
    careful(async () => {
      const told = await undo();
      if ($("panel").dataset.panel === "tank") {
        await tankPanel();
      }
      say(told);
    });
  }
});

document.addEventListener("dragover", (event) => event.preventDefault());
document.addEventListener("drop", (event) => {
  event.preventDefault();
  const file = event.dataTransfer?.files[0];
  if (file) {
    // A track on the page of tracks, a boundary file with what was said of it on that of plots.
    const bring = ["drive", "plots"].includes($("panel").dataset.panel) && $("panel").letIn;
    careful(() => (bring ? bring(file) : letIn(file)));
  }
});

// Somebody else may have changed something while this page lay below another one.
document.addEventListener("visibilitychange", () => {
  if (!document.hidden && $("panel").dataset.panel === "plots") {
    refresh().catch(() => null);
  }
});

careful(async () => {
  const [first, photo] = await Promise.all(window.gladeFirst);
  take(first);
  book.map.seeAll();
  listPlots();
  $("photo-words").textContent = photo.local ? "Photo from above" : "Photo from above (needs internet)";
  $("photo").addEventListener("change", () =>
    book.map.photo(photo, $("photo").checked, () => say(photo.local ? "There is no photo here." : "The photo could not be fetched. The sheet ruled in feet works without it.", true)),
  );
  document.documentElement.dataset.ready = "yes";
});
