// Asks the browser for a passkey and sends what it answers with the form that asked. Nothing is shown where a browser
// has none to offer.

const canAsk = window.PublicKeyCredential?.parseRequestOptionsFromJSON !== undefined;

/** What the browser answers to a form's question. */
async function answerTo({ ask, options }) {
  const publicKey = JSON.parse(options);
  if (ask === "create") {
    return navigator.credentials.create({ publicKey: PublicKeyCredential.parseCreationOptionsFromJSON(publicKey) });
  }
  return navigator.credentials.get({ publicKey: PublicKeyCredential.parseRequestOptionsFromJSON(publicKey) });
}

for (const form of canAsk ? document.querySelectorAll("form[data-ask]") : []) {
  form.hidden = false;
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const fault = form.querySelector("[role=alert]");
    fault.hidden = true;
    try {
      const credential = await answerTo(form.dataset);
      form.elements.credential.value = JSON.stringify(credential.toJSON());
    } catch {
      // The person said no, took too long, or has no passkey here: browsers don't tell which.
      fault.hidden = false;
      return;
    }
    form.submit();
  });
}
