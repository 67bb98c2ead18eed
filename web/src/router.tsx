import { createRootRoute, createRoute, createRouter, Outlet, redirect, useNavigate, useParams, useSearch } from "@tanstack/react-router";
import { useCallback } from "react";
import { Frame } from "./app/Frame";
import { Studies } from "./app/Studies";
import { changed, parseSearch, stringifySearch, type Search } from "./lib/address";

const root = createRootRoute({
  component: Outlet,
  validateSearch: (s: Record<string, unknown>): Search => s as Search,
  notFoundComponent: () => <p style={{ padding: "2rem" }}>There is no page at this address. <a href="/">To the studies</a></p>,
});

const routes = root.addChildren([
  createRoute({ getParentRoute: () => root, path: "/", component: Studies }),
  createRoute({
    getParentRoute: () => root,
    path: "/s/$study",
    beforeLoad: ({ params }) => {
      throw redirect({ to: "/s/$study/$chapter", params: { study: params.study, chapter: "home" } });
    },
  }),
  createRoute({ getParentRoute: () => root, path: "/s/$study/$chapter", component: Frame }),
]);

export const router = createRouter({
  routeTree: routes,
  parseSearch,
  stringifySearch,
  defaultPreload: false,
  scrollRestoration: true,
});

declare module "@tanstack/react-router" {
  interface Register {
    router: typeof router;
  }
}

export interface Address {
  study: string;
  chapter: string;
  search: Search;
  /** Changes keys of the address; "" and undefined take one out. `replace` leaves no step to come back to. */
  set: (to: Search, how?: { replace?: boolean; chapter?: string }) => void;
  /** The address that `set` would lead to, for links. */
  href: (to: Search, chapter?: string) => string;
}

// Keys that other chapters know too; the rest is dropped on the way from one to another.
const shared = ["condition", "findings", "verdict", "of", "finding", "working"];

/** The address: what is on screen, and the way to change it. */
export function useAddress(): Address {
  const { study = "", chapter = "home" } = useParams({ strict: false }) as { study?: string; chapter?: string };
  const search = useSearch({ strict: false }) as Search;
  const navigate = useNavigate();
  const next = useCallback(
    (to: Search, toChapter?: string): Search => {
      const kept =
        toChapter && toChapter !== chapter
          ? Object.fromEntries(Object.entries(search).filter(([k]) => shared.includes(k)))
          : search;
      return changed(kept, to);
    },
    [search, chapter],
  );
  const set = useCallback(
    (to: Search, how: { replace?: boolean; chapter?: string } = {}) => {
      void navigate({
        to: "/s/$study/$chapter",
        params: { study, chapter: how.chapter ?? chapter },
        search: next(to, how.chapter) as never,
        replace: how.replace ?? false,
        resetScroll: how.chapter !== undefined && how.chapter !== chapter,
      });
    },
    [navigate, study, chapter, next],
  );
  const href = useCallback(
    (to: Search, toChapter?: string) =>
      `/s/${encodeURIComponent(study)}/${toChapter ?? chapter}${stringifySearch(next(to, toChapter))}`,
    [study, chapter, next],
  );
  return { study, chapter, search, set, href };
}

/** A link within the page that is a real address too: it opens in a new tab, and can be copied. */
export function Go({
  to,
  chapter,
  children,
  ...rest
}: { to: Search; chapter?: string } & Omit<React.AnchorHTMLAttributes<HTMLAnchorElement>, "href">) {
  const address = useAddress();
  return (
    <a
      {...rest}
      href={address.href(to, chapter)}
      onClick={(e) => {
        rest.onClick?.(e);
        if (e.defaultPrevented || e.button !== 0 || e.metaKey || e.ctrlKey || e.shiftKey || e.altKey) return;
        e.preventDefault();
        address.set(to, { chapter });
      }}
    >
      {children}
    </a>
  );
}
