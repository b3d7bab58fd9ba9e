/* Who may ask: the Host and Origin checks that keep other people's pages out of a server that runs
 * on this machine.
 *
 * A page of another site can make a browser send requests here. With a forged name that resolves to
 * this machine (DNS rebinding) it could also read the answers: so the Host must be an address or a
 * name of this machine. Without that it can still post: so a request that changes something must
 * come from a page of this very origin, or from no browser at all (no Origin header). */
#pragma once
#include <glib.h>

struct ew_guard {
  guint port;
  gboolean tls;
  gboolean lan;            /* addresses of the local network are answered too */
  const char *public_name; /* of a proxy in front, at whatever port it has; NULL: none */
};

/* `host` as sent, with its port: "127.0.0.1:8088". NULL is refused. */
gboolean ew_guard_host(const struct ew_guard *guard, const char *host);
/* A name that only this machine has: a literal address of its loopback, or localhost. */
gboolean ew_guard_near(const struct ew_guard *guard, const char *host);
/* A header by which a proxy says for whom it asks: RFC 7239 (Forwarded), RFC 9110 7.6.3 (Via), and the older ones. */
gboolean ew_guard_is_forwarding(const char *name);
/* What a browser says of where a request comes from (Fetch Metadata, W3C): only the page itself, and the person who types
 * an address, may ask the interface; another site may lead to the page's files, and that is all. NULL: not said. */
gboolean ew_guard_site(const char *site, const char *mode, gboolean interface);
/* `origin` NULL: no browser's cross-site request. `site`: Sec-Fetch-Site, or NULL. */
gboolean ew_guard_origin(const struct ew_guard *guard, const char *origin, const char *host,
                         const char *site);
