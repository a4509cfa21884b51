/* Stands in until the page is merged: the report's text as a page. */
#include "loadside/report.h"
#include "report/whole_file.h"

enum lds_status lds_job_html(const struct lds_job *job, const char *plots_folder, const char *path,
                             struct lds_error *error)
{
    struct lds_whole_file file;
    (void)plots_folder;
    (void)job;
    enum lds_status status = lds_whole_file_open(&file, path, error);
    if (!status)
        fputs("<!DOCTYPE html><title>report</title>\n", file.out);
    return status ? status : lds_whole_file_commit(&file, error);
}
