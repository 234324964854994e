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
    .lk-bar { min-height: 34px; box-sizing: border-box; padding: 6px 16px; font: 14px/1.5 var(--jp-ui-font-family, sans-serif);
      color: var(--jp-ui-font-color1); background: var(--jp-layout-color2);
      border-bottom: 1px solid var(--jp-border-color1); }
    .lk-bar[data-tone="ready"]::before { content: "● "; color: #17893f; }
    .lk-bar[data-tone="busy"]::before { content: "◌ "; }
    .lk-bar[data-tone="trouble"]::before { content: "⚠ "; color: #c2452d; }
    .lk-bar[data-tone="trouble"] { font-weight: 600; }
    [data-jp-theme-light="false"] .lk-bar[data-tone="ready"]::before { color: #6fd39a; }
    [data-jp-theme-light="false"] .lk-bar[data-tone="trouble"]::before { color: #ff9d86; }`;

  const SAY = {
    starting: ["busy", "Starting your workbook: the engine behind the questions is getting up …"],
    asking: ["busy", "Setting up the questions …"],
    ready: ["ready", "Ready. Answers are saved on this laptop as you give them."],
    restarting: ["busy", "The engine is restarting. Saved answers are safe and come back by themselves …"],
    dead: ["trouble", "The engine has stopped: nothing new is saved now. Saved answers are safe. Choose Kernel → Restart Kernel."],
    unknown: ["trouble", "The connection to the engine is lost: nothing new is saved now. Saved answers are safe. Keep this page open."],
    failed: ["trouble", "Not every question could be set up. Read the message below, and tell your instructor."],
  };

  function isWorkbook(panel) {
    const metadata = panel.model?.sharedModel?.getMetadata?.() ?? {};
    return metadata.labkit?.start === true;
  }

  function attach(panel, NotebookActions, Widget) {
    const session = panel.sessionContext;
    panel.node.dataset.labkit = "starting";
    const bar = new Widget();
    bar.addClass("lk-bar");
    bar.node.setAttribute("role", "status");
    panel.contentHeader.addWidget(bar);

    let ran = false; // whether the kernel that is running now has set the questions up
    let running = false;
    let outcome = "ready"; // what setting up came to
    let kernelLife = 0; // counts the kernels: one that goes while it sets up has set nothing up
    let place = { cell: 0, top: 0 }; // at first the beginning, later where the trainee was

    function say(what) {
      const [tone, words] = SAY[what];
      panel.node.dataset.labkit = what;
      bar.node.dataset.tone = tone;
      bar.node.textContent = words;
    }

    async function run() {
      if (ran || running) return;
      running = true;
      say("asking");
      const life = kernelLife;
      const done = await NotebookActions.runAll(panel.content, session).catch(() => false);
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

    // Running scrolls to the last cell. The questions get their heights one after the other, so
    // that the old place is there only once they are drawn again.
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
      if (!ran) return;
      ran = false;
      place = { cell: panel.content.activeCellIndex, top: scroller()?.scrollTop ?? 0 };
    }

    function follow(status) {
      if (status === "idle" || status === "busy") {
        if (!ran && status === "idle") run();
        else if (ran && panel.node.dataset.labkit !== outcome) say(outcome);
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
      if (status === "disconnected" && ran) say("unknown");
      if (status === "connected" && ran) say(outcome);
    });
    say("starting");
    follow(session.session?.kernel?.status ?? "starting");
  }

  const plugin = (NotebookActions, INotebookTracker, Widget) => ({
    id: `${NAME}:plugin`,
    description: "Starts labkit workbooks and says what is going on.",
    autoStart: true,
    requires: [INotebookTracker],
    activate: (_app, tracker) => {
      const style = document.createElement("style");
      style.textContent = STYLE;
      document.head.append(style);
      tracker.widgetAdded.connect(async (_, panel) => {
        await panel.context.ready;
        if (!isWorkbook(panel)) return;
        panel.node.dataset.labkit = "starting";
        await panel.sessionContext.ready;
        attach(panel, NotebookActions, Widget);
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
