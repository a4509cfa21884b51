/* Paths from one folder to another. */
#ifndef LDS_JOB_PATH_BETWEEN_H
#define LDS_JOB_PATH_BETWEEN_H

/* The prefix that makes a file name in that folder a path from the folder of `file`: "", "../captures/", or a whole
 * path when the two share none. To be freed; NULL: one of the folders is not there, or no memory. */
char *lds_path_between(const char *file, const char *folder);

#endif
