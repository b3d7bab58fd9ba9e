/* Customers' links served, in a program of their own: it reads the book, keeps nothing, and knows no address but those behind a token.
 *
 *   request --GET, no body, name of this server--> /TOKEN/page --holds--> that page of that engine
 *                                                      +--wrong, expired, revoked, of another book: 404, all alike
 */
#pragma once
#include <glib.h>

struct ew_share_ready {
  const char *address; /* of this machine: where a proxy asks */
  guint port;
  gboolean clear_text; /* the network is answered without TLS */
};
struct ew_share_options {
  const char *book;              /* path */
  guint port;                    /* 0: any free one */
  gboolean lan;                  /* else this machine only, for a proxy on it */
  const char *public_name;       /* what browsers call the proxy; NULL: none */
  const char *certificate, *key; /* paths of PEM files for TLS; both or neither */
  void (*ready)(const struct ew_share_ready *ready, gpointer user);
  gpointer user;
};
/* Returns after SIGTERM or SIGINT. */
gboolean ew_share_serve(const struct ew_share_options *options, GError **error);
