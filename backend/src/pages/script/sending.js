// One save on its way to the registry, and what came of it in a word.

const PATIENCE = 20_000;

async function post(form, fields) {
  const body = new URLSearchParams(fields);
  for (const name of ["version", "form_token"]) body.set(name, form.elements[name].value);
  return fetch(form.getAttribute("action"), {
    method: "POST",
    body,
    headers: { accept: "application/json" },
    signal: AbortSignal.timeout(PATIENCE),
    keepalive: true,
  });
}

/** The token of a new sign-in, after the one of this page is over. */
async function renew(form) {
  const answer = await fetch(form.getAttribute("action"), { signal: AbortSignal.timeout(PATIENCE) });
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  const token = page.querySelector("form.entry [name=form_token]")?.value;
  if (!token) return false;
  for (const field of document.querySelectorAll("[name=form_token]")) field.value = token;
  return true;
}

async function told(answer) {
  const problem = await answer.json().catch(() => ({}));
  switch (problem.code) {
    case "signed_out":
      return { state: "signedOut" };
    case "stale":
      return { state: "overtaken" };
    default:
      if (answer.status >= 500) return { state: "busy" };
      return { state: "refused", detail: problem.detail ?? "the registry refused it.", code: problem.code };
  }
}

/** Sends what stands in the form; the state is one of those that the notice has words for. */
export async function send(form, fields) {
  try {
    let answer = await post(form, fields);
    if (answer.ok) return { state: "saved", saved: await answer.json() };
    let what = await told(answer);
    if (what.code !== "foreign_form") return what;
    if (!(await renew(form))) return { state: "signedOut" };
    answer = await post(form, fields);
    return answer.ok ? { state: "saved", saved: await answer.json() } : told(answer);
  } catch {
    return { state: "lost" };
  }
}
