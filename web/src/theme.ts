import { Button, createTheme, Input, Modal, type CSSVariablesResolver, type MantineColorsTuple } from "@mantine/core";
import { dark, light, variables } from "./lib/palette";

const accent = Array.from({ length: 10 }, (_, i) => (i < 6 ? dark.accent : light.accent)) as unknown as MantineColorsTuple;

export const theme = createTheme({
  fontFamily: '"IBM Plex Sans", system-ui, sans-serif',
  fontFamilyMonospace: '"IBM Plex Mono", ui-monospace, monospace',
  primaryColor: "accent",
  colors: { accent },
  primaryShade: { light: 8, dark: 4 },
  autoContrast: true,
  defaultRadius: 3,
  cursorType: "pointer",
  respectReducedMotion: true,
  components: {
    Button: Button.extend({ defaultProps: { size: "compact-sm" }, styles: { label: { fontWeight: 600 } } }),
    Input: Input.extend({ defaultProps: { size: "xs" } }),
    Modal: Modal.extend({ defaultProps: { transitionProps: { duration: 0 }, overlayProps: { backgroundOpacity: 0.35 } } }),
  },
});

/** Our colours for both themes, and the component kit's own names led to them. */
export const variablesResolver: CSSVariablesResolver = () => {
  const shared = {
    "--mantine-color-body": "var(--fw-paper)",
    "--mantine-color-text": "var(--fw-ink)",
    "--mantine-color-dimmed": "var(--fw-muted)",
    "--mantine-color-placeholder": "var(--fw-muted)",
    "--mantine-color-default": "var(--fw-sheet)",
    "--mantine-color-default-color": "var(--fw-ink)",
    "--mantine-color-default-border": "var(--fw-rule)",
    "--mantine-color-default-hover": "var(--fw-track)",
    "--mantine-color-error": "var(--fw-fails)",
    "--mantine-color-accent-filled": "var(--fw-accent)",
    "--mantine-primary-color-filled": "var(--fw-accent)",
    "--mantine-primary-color-contrast": "var(--fw-on-accent)",
  };
  return { variables: shared, light: { ...variables(light), ...shared }, dark: { ...variables(dark), ...shared } };
};
