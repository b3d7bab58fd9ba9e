/* The live session: sources in, alarms first, then whoever listens, then the book.
 *
 *   source --frame--> calibrate --> alarms --> pull watch --> pending --> store thread --> book
 *                                                  |
 *                                                  +--> pull thread: cut, reduce, judge, store
 *
 * Four threads: the live one reads sources and decides alarms, and waits for nothing; the store
 * thread appends what is pending in short transactions; the checkpoint thread moves the log into the
 * file off the committing path; the pull thread reduces. News leave through a queue of their own, so
 * that a slow reader of them delays nobody. */
#pragma once
#include "base/message.h"
#include "book/stream.h"
#include "cell/alarm.h"
#include "cell/source.h"
#include "desk/add.h"
#include <stdatomic.h>

struct ew_record_options {
  const char *book_path;
  const char *const *sources; /* URLs, NULL-terminated */
  gboolean power;             /* durability: stored outlives a power cut, else the program only */
  const char *engine;         /* id or name; NULL: the last one, if any */
  const char *const *sets;    /* "spark=30 deg"; NULL-terminated or NULL */
  const char *changed, *channel_map;
  const char *alarms_yaml, *alarms_name; /* both NULL: the book's own, or the template; with only
                                          * a name, "none": no alarms; name: for messages */
  const char *sensors_yaml;     /* calibration of raw channels; NULL: they are figures already */
  double limit_rpm, rate_rpm_s; /* NaN or 0: the engine's agreed limit; not known */
  double for_s;                 /* NaN: until the sources end or somebody stops it */
  gboolean by_hand;             /* pulls only between "begin" and "end" of the control line */
  int control_fd;               /* lines of control, as ew_record_takes() takes them; -1: none */
  atomic_int *in_pull;          /* kept TRUE while a pull is under way; NULL: nobody asks */
  /* Every frame in inside units, one value a struct ew_live_channel of `channels`, from the live
   * thread, which must not be kept waiting; with the user of `says`. NULL: nobody looks. */
  void (*sees)(const GArray *channels, double time_s, const double *inside, gpointer user);
  /* The alarms just after they decided on that frame (NULL: none are watched); the same rules. */
  void (*watches)(struct ew_alarms *alarms, double session_s, gpointer user);
};

/* event, and whether a person at the window should see it at once */
#define EW_RECORD_NEWS(X)                                                                          \
  X(STARTED, "started")                                                                            \
  X(RECOVERED, "recovered")                                                                        \
  X(CHANNELS, "channels")                                                                          \
  X(COMMIT, "commit")                                                                              \
  X(SOURCE, "source")                                                                              \
  X(GAP, "gap")                                                                                    \
  X(STORAGE, "storage")                                                                            \
  X(ALARM, "alarm")                                                                                \
  X(REQUEST, "request")                                                                            \
  X(ARMING, "arming")                                                                              \
  X(PULL, "pull")                                                                                  \
  X(SETUP, "setup")                                                                                \
  X(MARK, "mark")                                                                                  \
  X(REFUSED, "refused")                                                                            \
  X(END, "end")

enum ew_record_event {
#define X(name, says) EW_RECORD_##name,
  EW_RECORD_NEWS(X)
#undef X
      EW_RECORD_NEWS_COUNT
};

struct ew_record_news {
  enum ew_record_event event;
  const char *json;           /* one object without a line end; its "message" is the next member */
  const char *json_elsewhere; /* the same as other devices may have it; NULL: no different */
  const ew_message *message;  /* for a person; NULL: nothing to say */
  const char *text; /* the message in the language of the process, SI units; NULL as well */
  int disarmed;     /* TRUE, FALSE: somebody has just chosen so; -1: not about that */
  const char *set, *changed; /* said of the set-up, for the next pull; NULL: not about that */
  const char *used; /* of that went with the pull that was kept; as record_setup.h writes it */
};
/* Called from one thread, in order. */
typedef void (*ew_record_says)(const struct ew_record_news *news, gpointer user);

/* The table of alarms in a file (`given`), else the book's own, else the template: its text, and what
 * to call it. "none" gives no text. */
gboolean ew_record_alarms(const char *book_path, const char *given, char **text, const char **name,
                          GError **error);

/* The template's text, and what to call it; NULL with *error. */
char *ew_record_alarms_template(const char **name, GError **error);
/* Whether this text is a table of alarms; what its limits are shares of need not be known. */
gboolean ew_record_alarms_check(const char *text, const char *name, GError **error);

/* Whether a line of control would be taken now; the recorder itself asks this of each line, whoever
 * wrote it. Refuses what is not known, and in a pull all but mark, end, shut down and stop. */
gboolean ew_record_takes(const char *line, gboolean in_pull, GError **error);
/* The highest speed of today: the lower of the engine's agreed limit and the cell's own; NaN: neither is known. */
gboolean ew_record_limit_rpm(struct ew_book *book, double *limit_rpm, GError **error);

/* Runs until every source has ended, `for_s` is over or `*stop` is set; all that was received is
 * stored then. An unfinished live recording of a recorder that crashed is reported and closed first. Refuses
 * a second recorder on the same book. */
gboolean ew_record_run(const struct ew_record_options *options, ew_record_says says, gpointer user,
                       atomic_int *stop, GError **error);
/* Whether any program, this one too, records into this book now. To be asked only when the book has an unfinished
 * recording: a recorder that starts at the same instant may be refused. */
gboolean ew_record_is_under_way(const char *book_path);
