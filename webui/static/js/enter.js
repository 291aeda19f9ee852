// The link works once: its page posts the token as soon as a person's browser really shows it.
const form = document.getElementById("enter");
if (document.visibilityState === "visible") form.requestSubmit();
else document.addEventListener("visibilitychange", () => form.requestSubmit(), { once: true });
