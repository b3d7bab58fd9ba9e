/* What writes, one deed a kind: each begins with the book closed, as a program does, and ends with it closed. Between a deed and the
 * disk is lossy_disk.h. A deed notes what it acknowledged, as something that must be found afterwards. */
#pragma once
#include <glib.h>

/* key, one transaction (else many: what is stored may be a part of it), what a person would call it */
#define DEEDS(X)                                                                                   \
  X(RECORD, FALSE, "record")                                                                       \
  X(IMPORT, TRUE, "import")                                                                        \
  X(RENEW, TRUE, "renew")                                                                          \
  X(BACKUP, TRUE, "backup")                                                                        \
  X(AMEND, TRUE, "amend")                                                                          \
  X(NOTE, TRUE, "a note")                                                                          \
  X(TAKE_BACK, TRUE, "a note taken back")                                                          \
  X(DISCARD, TRUE, "a pull discarded")                                                             \
  X(FOUND, TRUE, "what was found")                                                                 \
  X(MEASURE, TRUE, "a build's measurement")                                                        \
  X(SETTING, TRUE, "a setting")                                                                    \
  X(DEVICES, TRUE, "a file of this machine")

enum deed {
#define X(key, whole, says) DEED_##key,
  DEEDS(X)
#undef X
      DEEDS_COUNT
};
extern const char *const deed_names[];
extern const gboolean deed_is_whole[];

/* What was said to be stored, a line each: "FILE<tab>SQL", a question to that file as a book whose first figure must not be 0, or
 * "FILE<tab>NUMBER", the least number that stands in its text. In memory that a child process shares. */
struct said {
  guint count;
  gsize length;
  char text[1 << 18];
};

struct job {
  char *folder, *book; /* the folder is also the one of this machine's own files */
  struct said *said;   /* filled from several threads */
  GMutex mutex;
  guint number; /* another one for each deed: no two write the same, and they rise */
};

/* A book with a day's pulls, a build and a note, of whose curves an earlier program made each; once a process. */
void job_begin(struct job *job);
void job_clear(struct job *job);
/* The folder as it was at first. */
void job_anew(struct job *job);
/* FALSE with *error. */
gboolean job_do(struct job *job, enum deed deed, GError **error);

/* What must hold of the files in a folder, whatever happened: each book that has its own name is whole, and all that was said is there.
 * NULL, or what is wrong, to free. */
char *job_wrong(const struct job *job, const char *folder);
/* Everything in the folder that lasts, as one digest: two are the same when the same is stored, times apart. */
char *job_digest(const char *folder);
/* Removes all files of a folder. */
void folder_empty(const char *folder);
