// A prebuilt JupyterLab extension, written by hand: no bundler, nothing fetched.
// It runs a labkit workbook when it is opened and again after its kernel was restarted, hides the
// machinery behind the questions, and says in a line at the top what is going on.
// Only notebooks that carry labkit's own metadata are touched.
(() => {
  const NAME = "labkit-workbook";

  const STYLE = `
    [data-labkit] .jp-CodeCell .jp-Cell-inputWrapper { display: none !important; }
    [data-labkit] .jp-CodeCell .jp-OutputPrompt { visibility: hidden; }
    [data-labkit] .jp-Notebook-footer { display: none; }
    [data-labkit] .jp-MarkdownCell .jp-RenderedMarkdown { max-width: 920px; }
    [data-labkit] .jp-cell-toolbar, [data-labkit] .jp-collapseHeadingButton { display: none !important; }
    [data-labkit] .jp-Collapser { visibility: hidden; }
    /* An exercise scrolls what is wide within itself; in a cell that scrolls nothing would stay in view. */
    [data-labkit] :is(.jp-Cell-outputArea, .jp-OutputArea-child, .jp-OutputArea-output):has(.lk-exercise) { overflow: visible; }
    .lk-bar { min-height: 34px; box-sizing: border-box; font: 14px/1.5 var(--jp-ui-font-family, sans-serif);
      color: var(--jp-ui-font-color1); background: var(--jp-layout-color2);
      border-bottom: 1px solid var(--jp-border-color1); }
    .lk-bar-line { display: flex; flex-wrap: wrap; gap: 4px 16px; align-items: center; padding: 6px 16px; }
    .lk-bar button { font: inherit; padding: 2px 14px; border: 1px solid currentColor; border-radius: 4px;
      color: inherit; background: var(--jp-layout-color1); cursor: pointer; }
    .lk-bar a { margin-left: auto; color: inherit; text-decoration: underline; }
    .lk-bar :is(a, button):focus-visible { outline: 3px solid var(--jp-brand-color1); outline-offset: 2px; }
    .lk-bar[data-tone="ready"] .lk-bar-words::before { content: "● "; color: #17893f; }
    .lk-bar[data-tone="busy"] .lk-bar-words::before { content: "◌ "; }
    .lk-bar[data-tone="trouble"] .lk-bar-words::before { content: "⚠ "; color: #c2452d; }
    .lk-bar[data-tone="trouble"] { font-weight: 600; }
    [data-jp-theme-light="false"] .lk-bar[data-tone="ready"] .lk-bar-words::before { color: #6fd39a; }
    [data-jp-theme-light="false"] .lk-bar[data-tone="trouble"] .lk-bar-words::before { color: #ff9d86; }`;

  const SAY = {
    starting: ["busy", "Starting your workbook: the engine behind the questions is getting up …"],
    asking: ["busy", "Setting up the questions …"],
    ready: ["ready", "Ready. Answers are saved on this laptop as you give them."],
    restarting: ["busy", "The engine is restarting. Saved answers are safe and come back by themselves …"],
    dead: ["trouble", "The engine has stopped: nothing new is saved now. Saved answers are safe."],
    silent: ["trouble", "The engine does not answer: what you give now is not saved yet. Saved answers are safe. Wait a minute, then start it again."],
    unknown: ["trouble", "The connection to the engine is lost: nothing new is saved now. Saved answers are safe. Keep this page open."],
    failed: ["trouble", "Not every question could be set up. Read the message below, and tell your instructor."],
  };

  function isWorkbook(panel) {
    const metadata = panel.model?.sharedModel?.getMetadata?.() ?? {};
    return metadata.labkit?.start === true;
  }

  // What an exercise or the hand-in waits for in vain, and what is not on the disk yet.
  const STUCK = '.lk-exercise[data-state="stuck"]';
  const UNSAVED = '[data-exercise]:is([data-state="editing"], [data-state="saving"], [data-state="stuck"], [data-state="failed"])';
  // Where a folder has several workbooks, `labkit open` serves a page to choose one of them.
  const START_PAGE = JSON.parse(document.getElementById("jupyter-config-data")?.textContent || "{}").labkitStart;
  const CAN_START_AGAIN = ["dead", "silent", "unknown"];

  // The line at the top. Its place is cut to a height of its own: it says how high it must be.
  function makeBar(Widget, panel, startAgain) {
    const bar = new Widget();
    const line = bar.node.appendChild(document.createElement("div"));
    const words = line.appendChild(document.createElement("span"));
    const press = line.appendChild(document.createElement("button"));
    bar.addClass("lk-bar");
    line.className = "lk-bar-line";
    words.className = "lk-bar-words";
    words.setAttribute("role", "status");
    press.type = "button";
    press.textContent = "Start the engine again";
    press.addEventListener("click", startAgain);
    if (START_PAGE) {
      const back = line.appendChild(document.createElement("a"));
      back.href = START_PAGE;
      back.textContent = "All my labs";
    }
    panel.contentHeader.addWidget(bar);
    const measure = new ResizeObserver(() => {
      bar.node.style.minHeight = `${line.offsetHeight}px`;
      panel.contentHeader.fit();
    });
    measure.observe(line);
    return (what) => {
      const [tone, said] = SAY[what];
      bar.node.dataset.tone = tone;
      if (words.textContent !== said) words.textContent = said;
      press.hidden = !CAN_START_AGAIN.includes(what);
    };
  }

  // In a workbook there is nothing to edit: no key is a shortcut, and no text opens as Markdown.
  function lock(panel) {
    const { node } = panel.content;
    panel.toolbar.hide();
    node.addEventListener("keydown", (event) => {
      event.stopPropagation(); // shortcuts are looked for where it would come to: at the document
      const saves = (event.ctrlKey || event.metaKey) && event.key.toLowerCase() === "s";
      if (saves) event.preventDefault(); // the browser would offer to keep the page as a file
    });
    const openText = (event) => event.target.closest?.(".jp-MarkdownCell") && event.stopPropagation();
    node.addEventListener("dblclick", openText, true);
  }

  // `labkit open` has no menus: the row where they would be is room for the work.
  async function giveRoom(app) {
    await app.restored;
    for (const bar of app.shell.widgets("menu")) {
      if (bar.menus?.length === 0) bar.parent?.hide();
    }
  }

  // The file of the notebook holds no answer: it never needs to be saved. What may be lost is asked about.
  function askBeforeLoss(panel) {
    const { model } = panel.context;
    const clean = () => {
      if (model.dirty) model.dirty = false;
    };
    model.stateChanged.connect(clean);
    clean();
    const ask = (event) => panel.node.querySelector(UNSAVED) && event.preventDefault();
    window.addEventListener("beforeunload", ask);
    panel.disposed.connect(() => window.removeEventListener("beforeunload", ask));
  }

  // The outputs of the cells are the questions: who clears them gets them back.
  function watchOutputs(panel, gone) {
    const code = [...panel.model.cells].filter((cell) => cell.type === "code");
    let due = 0;
    function look() {
      clearTimeout(due);
      due = setTimeout(() => code.some((cell) => cell.outputs.length === 0) && gone(), 200);
    }
    for (const cell of code) cell.outputs.changed.connect(look);
    panel.disposed.connect(() => clearTimeout(due)); // a notebook that is closed has no cells
  }

  function attach(app, panel, NotebookActions, Widget) {
    const session = panel.sessionContext;
    const tell = makeBar(Widget, panel, startAgain);

    let ran = false; // whether the kernel that is running now has set the questions up
    let running = false;
    let outcome = "ready"; // what setting up came to
    let now = "starting";
    let kernelLife = 0; // counts the kernels: one that goes while it sets up has set nothing up
    let place = { cell: 0, top: 0 }; // at first the beginning, later where the trainee was

    function say(what) {
      now = what;
      show();
    }

    // An exercise hears first that nothing answers: the line never says otherwise.
    function show() {
      const fine = now === "ready" || now === "failed";
      const what = fine && panel.node.querySelector(STUCK) ? "silent" : now;
      panel.node.dataset.labkit = what;
      tell(what);
    }

    async function run() {
      if (ran || running) return;
      running = true;
      say("asking");
      const life = kernelLife;
      const done = await setUp(life).catch(() => false);
      running = false;
      if (life !== kernelLife) {
        follow(session.session?.kernel?.status ?? "dead");
        return;
      }
      ran = true;
      panel.content.activeCellIndex = place.cell;
      scrollBack(place.top);
      outcome = done ? "ready" : "failed";
      say(outcome);
    }

    // The first cell opens the workbook, which the others ask for their questions. They wait for it:
    // the engine drops only what is there already when a cell fails.
    async function setUp(life) {
      const cells = panel.content.widgets;
      const others = cells.findIndex((cell) => cell.model.type === "code") + 1;
      const runs = (some) => NotebookActions.runCells(panel.content, some, session);
      if (!(await runs(cells.slice(0, others))) || life !== kernelLife) return false;
      return runs(cells.slice(others));
    }

    // The questions get their heights one after the other: the old place is there only once they
    // are drawn again.
    function scrollBack(top, framesLeft = 120) {
      const outer = scroller();
      if (!outer) return;
      outer.scrollTo(0, top);
      if (Math.abs(outer.scrollTop - top) > 2 && framesLeft > 0) {
        requestAnimationFrame(() => scrollBack(top, framesLeft - 1));
      }
    }

    function scroller() {
      return panel.content.node.querySelector(".jp-WindowedPanel-outer");
    }

    function gone() {
      kernelLife += 1;
      forget();
    }

    function forget() {
      if (!ran) return;
      ran = false;
      place = { cell: panel.content.activeCellIndex, top: scroller()?.scrollTop ?? 0 };
    }

    function cleared() {
      if (!ran || running || outcome === "failed") return;
      forget();
      follow(session.session?.kernel?.status ?? "dead");
    }

    // A kernel that is gone for good cannot be restarted: another one takes its place.
    async function startAgain() {
      const { kernels } = app.serviceManager;
      gone();
      say("restarting");
      try {
        await kernels.refreshRunning();
        const there = [...kernels.running()].some(({ id }) => id === session.session?.kernel?.id);
        if (there) await session.restartKernel();
        else {
          await session.shutdown().catch(() => {});
          await session.startKernel();
        }
      } catch {
        say("unknown");
      }
    }

    function follow(status) {
      if (status === "idle" || status === "busy") {
        if (!ran && status === "idle") run();
        else if (ran && now !== outcome) say(outcome);
        return;
      }
      if (["restarting", "autorestarting", "terminating", "starting"].includes(status)) {
        gone();
        say(status === "starting" ? "starting" : "restarting");
      } else if (status === "dead") {
        gone();
        say("dead");
      } else if (status === "unknown" && ran) {
        say("unknown");
      }
    }

    session.statusChanged.connect((_, status) => follow(status));
    session.connectionStatusChanged.connect((_, status) => {
      if (ran) say(status === "connected" ? outcome : "unknown");
    });
    new MutationObserver(show).observe(panel.node, { subtree: true, attributeFilter: ["data-state"] });
    lock(panel);
    giveRoom(app);
    askBeforeLoss(panel);
    watchOutputs(panel, cleared);
    say("starting");
    follow(session.session?.kernel?.status ?? "starting");
  }

  const plugin = (NotebookActions, INotebookTracker, Widget) => ({
    id: `${NAME}:plugin`,
    description: "Starts labkit workbooks and says what is going on.",
    autoStart: true,
    requires: [INotebookTracker],
    activate: (app, tracker) => {
      const style = document.createElement("style");
      style.textContent = STYLE;
      document.head.append(style);
      tracker.widgetAdded.connect(async (_, panel) => {
        await panel.context.ready;
        if (!isWorkbook(panel)) return;
        panel.node.dataset.labkit = "starting";
        await panel.sessionContext.ready;
        attach(app, panel, NotebookActions, Widget);
      });
    },
  });

  let shared = null;

  async function load(name) {
    const versions = shared[name];
    const newest = Object.keys(versions).sort((a, b) => a.localeCompare(b, undefined, { numeric: true })).pop();
    return (await versions[newest].get())();
  }

  window._JUPYTERLAB = window._JUPYTERLAB || {};
  window._JUPYTERLAB[NAME] = {
    init: (scope) => {
      shared = scope;
    },
    get: async () => {
      const notebook = await load("@jupyterlab/notebook");
      const { Widget } = await load("@lumino/widgets");
      return () => ({
        __esModule: true,
        default: plugin(notebook.NotebookActions, notebook.INotebookTracker, Widget),
      });
    },
  };
})();
