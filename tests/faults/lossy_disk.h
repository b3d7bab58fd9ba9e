/* A disk whose power is cut, or that refuses one call: every call of this program that changes a file of one folder goes through
 * here, SQLite's as well as those of files beside the book. The calls of the C library (open, write, pwrite, ftruncate, fsync,
 * fdatasync, rename, link, unlink, close) are defined by the test program itself, so that they take the place of the library's own, in
 * shared libraries too; outside the watched folder they do what they always did. fopen and its kin do not come this way.
 *
 * What is on the disk is kept apart from what was written:
 *
 *   written --fsync of the file--> kept bytes        made, renamed, removed --fsync of the folder--> kept names
 *
 * A cut leaves of each file the kept bytes and, of what was written since, any part: each write is taken apart into sectors of
 * 512 bytes, each is there or not, whatever became of those before and after it (so writes are lost, torn, and overtaken by
 * later ones); so is each change of length. What lies between is zeros or rubbish. Of the names the first so many changes are there: journals of file
 * systems keep their order. A lying disk says that it synced and did not: with it the tests must fail.
 *
 * Memory mapped files (SQLite's -shm) are not followed: nothing in them outlives a cut. */
#pragma once
#include <glib.h>

enum disk_fault {
  DISK_SOUND,
  DISK_ERROR, /* that step fails once: EIO */
  DISK_FULL,  /* once: ENOSPC; what takes no room fails with EIO */
  DISK_SHORT, /* once: half is written, and said so; what writes nothing fails with EIO */
};

/* Watches the files directly in this folder from now on: as they are now, they are on the disk. */
void disk_watch(const char *folder);
void disk_forget(void);
/* At that step (from 1) of those counted since. */
void disk_set(enum disk_fault fault, guint at);
/* The power fails at that step: then, with every other thread halted before its next change, `farewell` is called, which does not
 * come back. */
void disk_set_cut(guint at, void (*farewell)(gpointer user), gpointer user);
void disk_set_lying(gboolean lies);
guint disk_steps(void);
gboolean disk_has_failed(void); /* did it come to that step? */
/* What is found after the cut, as files in another folder, which is not watched; by `farewell`. */
void disk_survivors(GRand *random, const char *folder);
