/* What an engine reads while it is recorded, sent to an MQTT broker once a second: for a shop that opens no port. A program of its own
 * beside whatever records; it reads the book and keeps nothing, so no broker can hold a recording up.
 *
 *   begun --accepted--> publishing --the line breaks--> waiting --accepted--> publishing
 *     \--refused (login, certificate, topic): over          \--1 to 30 s, for ever
 *
 *   TOPIC/state  "live", "silent", "none"; retained; "gone" is the broker's word when this program is (its last will)
 *   TOPIC/now    a JSON object (desk/now.h), never retained: an old figure is not a live one
 *
 * One message waits at most: while the broker does not take it, none is added. */
#pragma once
#include "base/units.h"
#include <glib.h>

struct ew_publish_options {
  const char *book; /* path */
  gint64 engine;    /* number in it */
  guint64 channels; /* set of enum ew_channel */
  enum ew_unit_system units;
  double until_s; /* Unix seconds; ends then. NaN: when it is stopped */
  const char *host, *topic;
  guint port;
  gboolean tls;
  const char
      *authority; /* PEM of who signs the broker's certificate; NULL: those this machine trusts */
  const char *login, *password;                  /* NULL: none */
  void (*says)(const char *line, gpointer user); /* what happened, in the language of the thread */
  gpointer user;
};
/* Returns after SIGTERM or SIGINT, or at `until_s`. Refused: what no waiting mends. */
gboolean ew_publish_run(const struct ew_publish_options *options, GError **error);
