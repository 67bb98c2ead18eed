import { Modal } from "@mantine/core";
import { useAllKeys } from "./keys";
import classes from "./KeysSheet.module.css";

/** All keys that work on this page now. */
export function KeysSheet({ opened, close }: { opened: boolean; close: () => void }) {
  const keys = useAllKeys();
  const groups = [...new Set(keys.map((k) => k.group ?? "everywhere"))];
  return (
    <Modal.Root opened={opened} onClose={close} size="xl">
      <Modal.Overlay />
      <Modal.Content>
        <Modal.Body>
          <div className={classes.head}>
            <Modal.Title component="h2">Keys</Modal.Title>
            <button type="button" className="word" onClick={close}>
              close
            </button>
          </div>
          <div className={classes.sheet}>
        {groups.map((g) => (
          <section key={g}>
            <h3>{g}</h3>
            <dl>
              {keys
                .filter((k) => (k.group ?? "everywhere") === g && k.says !== "")
                .map((k) => (
                  <div key={k.key + k.says}>
                    <dt>
                      <kbd>{shown(k.key)}</kbd>
                    </dt>
                    <dd>{k.says}</dd>
                  </div>
                ))}
            </dl>
          </section>
        ))}
          </div>
          <p className="muted small">Tab goes through everything that can be used; Enter uses it; Escape closes.</p>
        </Modal.Body>
      </Modal.Content>
    </Modal.Root>
  );
}

const names: Record<string, string> = { ArrowLeft: "←", ArrowRight: "→", ArrowUp: "↑", ArrowDown: "↓", Escape: "Esc", " ": "space" };

function shown(key: string): string {
  if (key === "+") return key;
  return key
    .split("+")
    .map((k) => names[k] ?? k)
    .join(" ");
}
