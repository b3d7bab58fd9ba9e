/* A source of live samples: a line stream, a bus, a replay, or the practice cell, chosen by URL.
 *
 * All sources give the same frames through one sink: first the channels with their units, then
 * rows of values, each with a time; and events when something is wrong with them. A source that cannot
 * be reached after it was opened is not an error: it is reported as an event, and tried again. */
#pragma once
#include "base/message.h"
#include "pull/sensor.h"

/* name, key, is it bad news */
#define EW_SOURCE_EVENTS(X)                                                                        \
  X(CONNECTED, "connected", FALSE)                                                                 \
  X(LOST, "lost", TRUE)                                                                            \
  X(HEADER_CHANGED, "header changed", TRUE)                                                        \
  X(GARBAGE, "garbage", TRUE)                                                                      \
  X(STRANGER, "stranger", TRUE)                                                                    \
  X(UNREADABLE, "unreadable", TRUE)                                                                \
  X(READABLE, "readable again", FALSE)                                                             \
  X(REPEATED, "repeated", TRUE)                                                                    \
  X(TIME_BACK, "time went back", TRUE)                                                             \
  X(REPLY, "reply", FALSE)                                                                         \
  X(ENDED, "ended", FALSE)

enum ew_source_event {
#define X(name, says, bad) EW_SOURCE_##name,
  EW_SOURCE_EVENTS(X)
#undef X
      EW_SOURCE_EVENTS_COUNT
};
extern const char *const ew_source_event_names[EW_SOURCE_EVENTS_COUNT];

/* What went wrong in somebody else's words: of the system, of a library. */
extern const struct ew_message_kind ew_source_error;

struct ew_source_sink {
  void (*head)(gpointer user, const struct ew_source_channels *channels);
  /* `values`: one a channel, NaN where there is none. `time_s` is the sender's own clock when it
   * sends one, else `arrival_s`, which counts on this machine's monotonic clock. */
  void (*frame)(gpointer user, double time_s, double arrival_s, const double *values);
  void (*event)(gpointer user, enum ew_source_event event, const ew_message *what); /* or NULL */
  gpointer user;
};

struct ew_source;
struct ew_source_class {
  const char *scheme;
  const char *form; /* "tcp://HOST:PORT" */
  const char *help;
  struct ew_source *(*open)(const char *rest, GError **error);
  /* Deliver what is there without waiting. */
  void (*read)(struct ew_source *source, const struct ew_source_sink *sink, double now_s);
  /* A line back to the sender (requests, heartbeat); NULL: this kind cannot. */
  gboolean (*send)(struct ew_source *source, const char *line);
  void (*close)(struct ew_source *source);
};
/* The head of each kind's own struct. */
struct ew_source {
  const struct ew_source_class *class;
  char *url;
  int fd;        /* readable when there is news; -1: none */
  double wake_s; /* call again at this monotonic time even without news; INFINITY: no need */
  gboolean ended;
};
typedef struct ew_source ew_source;

/* Refuses an unknown scheme and a URL its kind cannot read. `replay:` is opened by
 * ew_source_replay, since a source knows no book. */
struct ew_source *ew_source_open(const char *url, GError **error);
/* A recording played again, `speed` times as fast (1 to 100); at its own pace, then it ends. */
struct ew_source *ew_source_replay(const char *url, GBytes *table, double speed, GError **error);
void ew_source_read(struct ew_source *source, const struct ew_source_sink *sink, double now_s);
gboolean ew_source_send(struct ew_source *source, const char *line);
/* Whether the program may send lines of its own accord: the practice cell, and what is named with
 * control=yes. A logger that was not told of us is sent nothing. */
gboolean ew_source_takes_requests(const struct ew_source *source);
void ew_source_close(struct ew_source *source);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(ew_source, ew_source_close)

/* Into the sink, if it listens; takes the message. */
void ew_source_tell(const struct ew_source_sink *sink, enum ew_source_event event,
                    ew_message *what);

double ew_monotonic_s(void); /* since it was first asked for */
/* "seed=3&rate=100" after a '?': the value of a key, a copy, or NULL. */
char *ew_url_option(const char *rest, const char *key);
gboolean ew_url_number(const char *rest, const char *key, double otherwise, double low, double high,
                       double *value, GError **error);
