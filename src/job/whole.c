/* whole.c - a file read whole, changed in memory, replaced whole. */
#include <stdio.h>
#include <unistd.h>

#include "base/open.h"
#include "flatwright/alloc.h"
#include "flatwright/file.h"
#include "job/whole.h"

fw_status fw_whole_read(const char *path, char **text, size_t *length, fw_error *err)
{
    int fd = -1;
    bool missing;
    size_t room = 1 << 16, got = 0;
    fw_error why;
    *text = NULL;
    *length = 0;
    fw_status status = fw_open_input(path, &fd, &missing, &why);
    while (status == FW_OK) {
        char *larger = fw_resize(*text, room, 1);
        if (!larger) {
            status = fw_fail(&why, FW_SYSTEM, "takes more memory than there is");
            break;
        }
        *text = larger;
        status = fw_read_input(fd, *text + *length, room - *length, &got, &why);
        if (status == FW_OK)
            *length += got;
        if (status != FW_OK || *length < room)
            break;
        room *= 2;
    }
    if (fd >= 0)
        close(fd);
    return status == FW_OK ? FW_OK : fw_fail(err, status, "'%s' %s", path, why.text);
}

fw_status fw_whole_replace(const char *path, const char *text, size_t length, fw_error *err)
{
    fw_draft draft;
    fw_status status = fw_draft_open(path, &draft, err);
    if (status != FW_OK)
        return status;
    fwrite(text, 1, length, draft.out); /* fw_draft_commit tells whether it got through */
    return fw_draft_commit(&draft, err);
}
