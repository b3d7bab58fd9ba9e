/* The page and its interface, served until told to stop. */
#pragma once
#include <glib.h>

struct ew_serve_ready {
  const char *address,
      *link; /* of the page; and with the key that lets this machine's browser in */
  guint port;
  const GPtrArray *network; /* addresses for other devices */
  const char *code;         /* pairs the first; NULL without `lan` */
  gboolean clear_text;      /* the network is answered without TLS */
  const char *unkept;       /* why the link must be opened after each start; NULL: once will do */
  const GPtrArray
      *pair_again; /* char*: devices that an earlier program kept in the book; they have no right */
  const char *devices_problem; /* why no device has a right; NULL: each has its own */
};

/* What the shop answered last, when something was sent to it (docs/api/sending.json). */
enum ew_serve_sending {
  EW_SENDING_NOT_ASKED,
  EW_SENDING_ALL_THERE,
  EW_SENDING_NO_ANSWER,
  EW_SENDING_REFUSED
};

struct ew_serve_options {
  const char *book;              /* path; made when missing */
  guint port;                    /* 0: any free one */
  gboolean lan;                  /* answer the local network, too: devices must be paired */
  const char *certificate, *key; /* paths of PEM files for TLS; both or neither */
  const char *const *sources;    /* that far devices may start; NULL-terminated, or NULL */
  const char *practice;          /* YAML of a practice day for the live view, or NULL */
  /* From any thread; *trouble is freed by the caller. NULL: nothing is sent beside. */
  enum ew_serve_sending (*sending)(char **trouble, gpointer user);
  gpointer sending_user;
  void (*ready)(const struct ew_serve_ready *ready, gpointer user); /* once it listens */
  gpointer user;
};

/* Returns after SIGTERM or SIGINT. */
gboolean ew_serve(const struct ew_serve_options *options, GError **error);
