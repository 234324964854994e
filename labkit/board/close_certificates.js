// Certificates: what they say, who gets one, who does not and why; issuing, printing, withdrawing.

import { ask } from "./asking.js";
import { button, element } from "./elements.js";
import { classPath } from "./house.js";
import { box, command, field, fold, form } from "./close_parts.js";

const WHAT = { same: "Has it", new: "Gets one", changed: "Gets a new one: something has changed", ends: "Is withdrawn", none: "None" };

/**
 * @param {any} now - the class's words and key
 * @param {any} people - who gets one, or null while nobody knows yet
 * @param {{ act: (part: string, said: object) => Promise<void>, work: any }} does
 */
export function certificates(now, people, does) {
  const parts = [facts(now), wording(now, does), ...key(now, does)];
  if (!people) return box("Certificates", ...parts, element("p", { role: "status" }, "Looking who gets one …"));
  if (people.wrong) return box("Certificates", ...parts, element("p", {}, people.wrong));
  return box("Certificates", ...parts, ...doing(people.people, does), table(people.people, does), ...earlier(people.earlier));
}

function facts(now) {
  const said = [
    now.issuer ? `Issuer: ${now.issuer}` : "No issuer is named",
    now.valid_for ? `valid for ${now.valid_for}` : "valid without an end",
    now.pass_mark === null ? "no pass mark, so nobody gets one" : `pass mark ${now.pass_mark} %`,
    now.competences.length ? `${now.competences.length} competences` : "no competences named",
  ];
  return element("p", {}, `${said.join(" · ")}.`);
}

function wording(now, does) {
  const issuer = field("Issuer: who issues them", { value: now.issuer, placeholder: "nobody named" });
  const valid = field("Valid for", { value: now.valid_for, placeholder: "24 months, 2 years, or a last day: 2028-11-30" });
  const competences = element("textarea", { class: "rm-input", placeholder: "none" }, now.competences.join("\n"));
  const send = () => does.act("words", { issuer: issuer.input.value, valid_for: valid.input.value, competences: competences.value.split("\n"), seen: now.seen });
  return fold(
    "What they say",
    form("Write it into class.yaml", send, issuer.label, valid.label, element("label", { class: "rm-label" }, "Competences, a line each", competences)),
    element("p", { class: "rm-quiet" }, "Name, class, day, labs with their versions and the result stand on them anyway."),
  );
}

function key(now, does) {
  if (now.key_wrong) return [element("p", { class: "rm-problem" }, now.key_wrong)];
  const explained = element("p", { class: "rm-quiet" }, `It lies in ${now.keys_folder}, in no class and in no backup of one. Whoever has it signs in your name.`);
  if (now.key) return [fold(`Signed with the key ${now.key}`, explained, command("labkit key --public FILE"))];
  return [
    element("p", {}, "They are not signed: no issuer's key is on this machine. If you have one on another machine, bring it in with the command; else make it, once for all classes."),
    form("Make the key", () => does.act("key", {})),
    command("labkit key --make, or labkit key --import FILE"),
  ];
}

function doing(people, does) {
  const due = people.filter((one) => ["new", "changed", "ends"].includes(one.what));
  const holding = people.filter((one) => one.serial);
  const row = element("div", { class: "rm-row" });
  if (due.length) row.append(button(issuing(due), () => does.work("issue", {}), { class: "rm-button" }));
  if (holding.length) row.append(element("a", { class: "rm-link", href: `${classPath()}close/certificates`, target: "_blank", rel: "noopener" }, "Open all, to print"));
  return [row, command("labkit certificates CLASS --issue")];
}

function issuing(due) {
  const count = (what) => due.filter((one) => one.what === what).length;
  const parts = [
    [count("new"), "issue"],
    [count("changed"), "replace"],
    [count("ends"), "withdraw"],
  ];
  const words = parts.filter(([number]) => number).map(([number, does]) => `${does} ${number}`);
  const said = words.join(", ");
  return said[0].toUpperCase() + said.slice(1);
}

function table(people, does) {
  const head = ["Name", "Certificate", "Result", "Number"].map((words) => element("th", { scope: "col" }, words));
  return element(
    "div",
    { class: "cl-scroll", tabindex: "0", role: "group", "aria-label": "Who gets a certificate" },
    element("table", { class: "cl-table" }, element("thead", {}, element("tr", {}, ...head)), element("tbody", {}, ...people.map((one) => person(one, does)))),
  );
}

function person(one, does) {
  const why = one.why ? element("div", { class: "rm-quiet" }, one.why) : "";
  return element(
    "tr",
    {},
    element("td", {}, `${one.name} `, element("span", { class: "rm-quiet" }, one.id)),
    element("td", {}, WHAT[one.what], why),
    element("td", {}, one.result),
    element("td", {}, ...number(one, does)),
  );
}

function number(one, does) {
  if (!one.serial) return [];
  const href = `${classPath()}close/certificates?serial=${encodeURIComponent(one.serial)}`;
  const reason = field("Why it is withdrawn; it stays in the records");
  const send = () => does.act("withdraw", { serial: one.serial, reason: reason.input.value });
  return [
    element("a", { class: "rm-link cl-serial", href, target: "_blank", rel: "noopener" }, one.serial),
    fold("Withdraw", form(`Withdraw ${one.serial}`, send, reason.label), command(`labkit certificates CLASS --withdraw ${one.serial} --reason WHY`)),
  ];
}

function earlier(all) {
  if (!all.length) return [];
  const said = all.map((one) => {
    const what = one.successor ? `replaced by ${one.successor}` : "withdrawn";
    const who = [one.since, one.by].filter(Boolean).join(", ");
    return element("li", {}, `${one.serial}${one.name ? `, ${one.name}` : ""}: ${what} (${who}). ${one.reason}`);
  });
  return [fold(`${all.length} that hold no more`, element("ul", { class: "hs-list" }, ...said))];
}

/** @param {any} now */
export async function whoGetsOne(now) {
  if (!now.dealt) return { wrong: "Nothing is dealt yet." };
  try {
    return await ask(`${classPath()}close/people`);
  } catch (error) {
    return { wrong: error.message };
  }
}
