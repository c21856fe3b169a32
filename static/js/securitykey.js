// Asks the browser for an answer of a security key (W3C Web Authentication Level 3, section 5.1) and
// sends it with the form that stands around the button.

const button = document.querySelector("[data-key]");

async function answerOf(asked) {
    const options = JSON.parse(document.getElementById("js_data").textContent);
    if (asked === "new") {
        const publicKey = PublicKeyCredential.parseCreationOptionsFromJSON(options.creation_options.publicKey);
        return navigator.credentials.create({ publicKey });
    }
    const publicKey = PublicKeyCredential.parseRequestOptionsFromJSON(options.request_options.publicKey);
    return navigator.credentials.get({ publicKey });
}

function say(sentence) {
    const place = document.getElementById("key-said");
    place.textContent = sentence;
    place.className = "notice notice-error";
}

async function ask() {
    button.disabled = true;
    try {
        const answer = await answerOf(button.dataset.key);
        button.form.elements.credential.value = JSON.stringify(answer.toJSON());
        button.form.submit();
    } catch (problem) {
        // Browsers refuse keys where the site has no name of its own, as at 127.0.0.1.
        say(problem.name === "SecurityError" ? button.dataset.unable : button.dataset.failed);
        button.disabled = false;
    }
}

if (button) {
    if (window.PublicKeyCredential && "parseRequestOptionsFromJSON" in PublicKeyCredential) {
        button.addEventListener("click", ask);
    } else {
        button.disabled = true;
        say(button.dataset.unable);
    }
}
