#include "answers.h"

#include "accept.h"
#include "adopt.h"
#include "ask.h"
#include "backup.h"
#include "export.h"
#include "history.h"
#include "import.h"
#include "keys.h"
#include "show.h"
#include "upload.h"
#include "verify.h"

api_fn *const answers[API_COUNT] = {
    [API_STATUS] = show_status,
    [API_MACHINES] = show_machines,
    [API_MACHINE] = show_machine,
    [API_JOBS] = show_jobs,
    [API_JOB] = show_job,
    [API_HISTORY] = history_show,
    [API_ACCEPT] = accept_pair,
    [API_WITHDRAW] = accept_withdraw,
    [API_PROGRAM] = show_program,
    [API_PROGRAM_KEEP] = upload_keep,
    [API_SEND] = ask_send,
    [API_RESTORE] = ask_restore,
    [API_FETCH] = ask_fetch,
    [API_DRIP] = ask_drip,
    [API_EXPORT] = export_pair,
    [API_IMPORT] = import_programs,
    [API_LOADED] = import_said,
    [API_DOUBT] = ask_doubt,
    [API_ADOPT] = adopt_pair,
    [API_PROVE] = ask_prove,
    [API_LOCK] = ask_lock,
    [API_UNLOCK] = ask_unlock,
    [API_ORDERS] = show_orders,
    [API_ORDER] = show_order,
    [API_ORDER_FOLLOW] = show_order_follow,
    [API_ORDER_CANCEL] = ask_cancel,
    [API_ORDER_NEXT] = ask_next,
    [API_BACKUP] = backup_answer,
    [API_AUDIT] = show_audit,
    [API_AUDIT_VERIFY] = verify_answer,
    [API_AUDIT_ENTRIES] = keys_entries,
    [API_AUDIT_PROOF] = keys_prove,
    [API_CHECKPOINTS] = keys_checkpoints,
    [API_KEYS] = keys_list,
    [API_KEYS_ROTATE] = keys_rotate,
    [API_FOLLOW] = show_follow,
};
