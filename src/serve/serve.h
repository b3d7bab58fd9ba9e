/* The page and its interface, served until told to stop. */
#pragma once
#include <glib.h>

struct ew_serve_options {
  const char *book;              /* path; made when missing */
  guint port;                    /* 0: any free one */
  gboolean lan;                  /* answer the local network, too: devices must be paired */
  const char *certificate, *key; /* paths of PEM files for TLS; both or neither */
  const char *practice;          /* YAML of a practice day for the live view, or NULL */
  /* once it listens: `network` are the addresses for other devices, `code` pairs the first (NULL
   * without `lan`) */
  void (*ready)(const char *address, guint port, const GPtrArray *network, const char *code,
                gpointer user);
  gpointer user;
};

/* Returns after SIGTERM or SIGINT. */
gboolean ew_serve(const struct ew_serve_options *options, GError **error);
