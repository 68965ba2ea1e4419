/* A phone's camera reads a code into a field. A button appears only where the browser
   offers both the detector and the camera; typing works always. No picture is kept. */
"use strict";

const CODES = ["qr_code", "code_128", "code_39"];
const PAUSE = 150; /* milliseconds between two looks */

function offerCamera(form) {
  const button = document.createElement("button");
  button.type = "button";
  button.className = "button second camera-button not-on-paper";
  button.textContent = "Use the camera";
  const view = document.createElement("div");
  view.className = "camera";
  view.hidden = true;
  const video = document.createElement("video");
  video.muted = true;
  video.playsInline = true;
  const said = document.createElement("p");
  said.setAttribute("role", "status");
  view.append(video, said);
  form.append(button, view);
  let stream = null;

  function stop() {
    stream?.getTracks().forEach((track) => track.stop());
    stream = null;
    video.srcObject = null;
    video.hidden = true;
    button.textContent = "Use the camera";
  }

  function take(code) {
    const fields = [...form.querySelectorAll("input[data-scan]:not([disabled]), [type=search]")];
    const field = fields.find((one) => one.value.trim() === "") ?? fields[0];
    field.value = code;
    field.focus();
    field.dispatchEvent(new Event("input", { bubbles: true }));
    const enter = new KeyboardEvent("keydown", { key: "Enter", bubbles: true, cancelable: true });
    /* As with a scanner: Enter goes to the next empty field, or sends the form. */
    if (field.dispatchEvent(enter)) form.requestSubmit();
  }

  async function look(detector) {
    while (stream) {
      const [found] = await detector.detect(video).catch(() => []);
      if (found && stream) {
        stop();
        view.hidden = true;
        take(found.rawValue);
        return;
      }
      await new Promise((resolve) => { setTimeout(resolve, PAUSE); });
    }
  }

  button.addEventListener("click", async () => {
    if (stream) {
      stop();
      view.hidden = true;
      return;
    }
    view.hidden = false;
    said.textContent = "Hold the code before the camera.";
    try {
      stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
      video.srcObject = stream;
      video.hidden = false;
      await video.play();
      button.textContent = "Stop the camera";
      look(new BarcodeDetector({ formats: CODES }));
    } catch {
      stop();
      said.textContent = "The camera cannot be used here. Type the number instead.";
    }
  });
  window.addEventListener("pagehide", stop);
  document.addEventListener("visibilitychange", () => { if (document.hidden) stop(); });
}

if ("BarcodeDetector" in window && navigator.mediaDevices?.getUserMedia) {
  const forms = [...document.querySelectorAll("main form")]
    .filter((form) => form.querySelector("[data-scan]"));
  (forms.length ? forms : document.querySelectorAll("form.find")).forEach(offerCamera);
}
