/* job_memory.c - every way of running out of memory while a job is read is walked. */
#include "../support/close.h"
#include "../support/folder.h"
#include "../support/refuse.h"

static fw_status read_job(void *data, fw_error *err)
{
    const folder *at = data;
    fw_job *job = NULL;
    fw_faults faults;
    fw_status status = fw_job_read(at->path, &job, &faults, err);
    bool has_job = job != NULL;
    fw_faults_release(&faults);
    fw_job_free(job);
    assert_true(has_job == (status == FW_OK));
    assert_int_equal(err->status, status);
    return status;
}

static void write_tables(const folder *at)
{
    folder_write(at, "readings.csv",
                 "bottom,top,turn_deg,diameter_deg,position_mm,deviation,scan\n"
                 "A,B,0,0,1,1,a\nA,C,0,0,1,1,b\nA,B,0,0,2,1,a\n");
    folder_write(at, "work.csv", "round,flat,hours,method,note\n1,A,1,grind,x\n1,B,1,grind,\n");
    folder_write(at, "sag.csv", "round,flat,ring_mm,sag_um,note\n1,A,60,1,x\n1,B,60,1,\n");
}

static void test_good_job(void **state)
{
    folder at = folder_make();
    (void)state;
    folder_write(&at, "job.ini", PLAIN_INI "title = x\n[plan]\nturns = 0 90\n[flat B]\nbore = 1\n");
    write_tables(&at);
    assert_true(refuse_each(read_job, &at, FW_OK, REFUSE_SPARE_ONE) > 30);
    folder_remove(&at);
}

static void test_faulty_job(void **state)
{
    folder at = folder_make();
    (void)state;
    folder_write(&at, "job.ini", PLAIN_INI "bor = x\n[flat D]\nbore = 1\n");
    write_tables(&at);
    folder_write(&at, "work.csv", "round,flat,hours,method,note\n1,D,1,grind,x\n1,B,x,grind,\n");
    assert_true(refuse_each(read_job, &at, FW_INPUT, REFUSE_SPARE_ONE) > 20);
    folder_remove(&at);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_good_job),
                                       cmocka_unit_test(test_faulty_job)};
    return cmocka_run_group_tests_name("job_memory", tests, NULL, NULL);
}
