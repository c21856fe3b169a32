"""Who gets which answer at which address: the one table that says so.

Columns are nobody (signed out), a stranger (a submitter of another group), a submitter of the
group, reception and the manager. Answers to GET, then to an empty POST:

    page   200            door   sent to sign in      no      403, known but not allowed
    form   422, asked again     away   sent on elsewhere     hidden  404, as if it did not exist
    method 405            stands 409, refused and explained   gone    410
"""

from __future__ import annotations

from tests.access_bench import BENCH, Answers
from tests.access_doors import DOORS

__all__ = ["TABLE", "Answers"]

#: Parameters of addresses, filled in with the objects of the group by ``tests/test_access.py``.
TABLE: dict[str, tuple[Answers, Answers]] = (
    {
        "health": (
            Answers("page", "page", "page", "page", "page"),
            Answers("method", "method", "method", "method", "method"),
        ),
        "mark": (
            Answers("away", "away", "away", "away", "away"),
            Answers("method", "method", "method", "method", "method"),
        ),
        "words": (
            Answers("page", "page", "page", "page", "page"),
            Answers("method", "method", "method", "method", "method"),
        ),
        "intake:language": (
            Answers("method", "method", "method", "method", "method"),
            Answers("away", "away", "away", "away", "away"),
        ),
        "account_login": (
            Answers("page", "away", "away", "away", "away"),
            Answers("page", "away", "away", "away", "away"),
        ),
        "account_logout": (
            Answers("door", "page", "page", "page", "page"),
            Answers("door", "door", "door", "door", "door"),
        ),
        "account_signup": (
            Answers("door", "door", "door", "door", "door"),
            Answers("door", "door", "door", "door", "door"),
        ),
        "account_inactive": (
            Answers("page", "page", "page", "page", "page"),
            Answers("method", "method", "method", "method", "method"),
        ),
        "account_reauthenticate": (
            Answers("door", "page", "page", "page", "page"),
            Answers("door", "page", "page", "page", "page"),
        ),
        "account_change_password": (
            Answers("door", "page", "page", "page", "page"),
            Answers("door", "page", "page", "page", "page"),
        ),
        "account_set_password": (
            Answers("door", "away", "away", "away", "away"),
            Answers("door", "away", "away", "away", "away"),
        ),
        "account_reset_password": (
            Answers("page", "page", "page", "page", "page"),
            Answers("page", "page", "page", "page", "page"),
        ),
        "account_reset_password_done": (
            Answers("page", "page", "page", "page", "page"),
            Answers("method", "method", "method", "method", "method"),
        ),
        "account_reset_password_from_key_done": (
            Answers("page", "page", "page", "page", "page"),
            Answers("method", "method", "method", "method", "method"),
        ),
        "account_reset_password_from_key": (
            Answers("page", "page", "page", "page", "page"),
            Answers("page", "page", "page", "page", "page"),
        ),
        "mfa_index": (
            Answers("door", "page", "page", "page", "page"),
            Answers("door", "method", "method", "method", "method"),
        ),
        "mfa_authenticate": (
            Answers("door", "away", "away", "away", "away"),
            Answers("door", "away", "away", "away", "away"),
        ),
        "mfa_reauthenticate": (
            Answers("door", "away", "away", "away", "away"),
            Answers("door", "away", "away", "away", "away"),
        ),
        "mfa_activate_totp": (
            Answers("door", "away", "away", "away", "away"),
            Answers("door", "away", "away", "away", "away"),
        ),
        "mfa_deactivate_totp": (
            Answers("door", "hidden", "hidden", "hidden", "hidden"),
            Answers("door", "hidden", "hidden", "hidden", "hidden"),
        ),
        "mfa_view_recovery_codes": (
            Answers("door", "hidden", "hidden", "hidden", "hidden"),
            Answers("door", "method", "method", "method", "method"),
        ),
        "mfa_generate_recovery_codes": (
            Answers("door", "away", "away", "away", "away"),
            Answers("door", "away", "away", "away", "away"),
        ),
        "mfa_download_recovery_codes": (
            Answers("door", "hidden", "hidden", "hidden", "hidden"),
            Answers("door", "hidden", "hidden", "hidden", "hidden"),
        ),
        "intake:consignments": (
            Answers("door", "page", "page", "page", "page"),
            Answers("method", "method", "method", "method", "method"),
        ),
        "intake:consignment_new": (
            Answers("door", "page", "page", "no", "page"),
            Answers("door", "form", "form", "no", "form"),
        ),
        "intake:consignment": (
            Answers("door", "hidden", "page", "hidden", "page"),
            Answers("method", "method", "method", "method", "method"),
        ),
        "intake:consignment_amend": (
            Answers("door", "hidden", "page", "hidden", "page"),
            Answers("door", "hidden", "form", "hidden", "form"),
        ),
        "intake:consignment_send": (
            Answers("door", "hidden", "page", "hidden", "page"),
            Answers("door", "hidden", "stands", "hidden", "stands"),
        ),
        "intake:consignment_withdraw": (
            Answers("door", "hidden", "page", "hidden", "page"),
            Answers("door", "hidden", "away", "hidden", "away"),
        ),
        "intake:samples": (
            Answers("door", "hidden", "page", "hidden", "page"),
            Answers("door", "hidden", "form", "hidden", "form"),
        ),
        "intake:sheet": (
            Answers("door", "hidden", "page", "hidden", "page"),
            Answers("door", "hidden", "form", "hidden", "form"),
        ),
        "intake:sheet_file": (
            Answers("door", "hidden", "page", "hidden", "page"),
            Answers("method", "method", "method", "method", "method"),
        ),
        "intake:sheet_confirm": (
            Answers("door", "hidden", "form", "hidden", "form"),
            Answers("door", "hidden", "form", "hidden", "form"),
        ),
        "intake:sheet_correct": (
            Answers("door", "hidden", "form", "hidden", "form"),
            Answers("door", "hidden", "form", "hidden", "form"),
        ),
        "intake:sheet_marked": (
            Answers("door", "hidden", "form", "hidden", "form"),
            Answers("method", "method", "method", "method", "method"),
        ),
        # A job belongs to whoever asked for it, the lab manager included.
        "intake:job": (
            Answers("door", "hidden", "page", "hidden", "hidden"),
            Answers("method", "method", "method", "method", "method"),
        ),
        "intake:home": (
            Answers("door", "away", "away", "away", "away"),
            Answers("door", "away", "away", "away", "away"),
        ),
        "intake:gallery": (
            Answers("door", "no", "no", "page", "page"),
            Answers("door", "no", "no", "page", "page"),
        ),
        "intake:profile": (
            Answers("door", "page", "page", "page", "page"),
            Answers("door", "page", "page", "page", "page"),
        ),
        "intake:calendar_address": (
            Answers("door", "page", "page", "page", "page"),
            Answers("door", "page", "page", "page", "page"),
        ),
        "intake:calendar": (
            Answers("hidden", "hidden", "hidden", "hidden", "hidden"),
            Answers("method", "method", "method", "method", "method"),
        ),
        "intake:invitation": (
            Answers("gone", "gone", "gone", "gone", "gone"),
            Answers("gone", "gone", "gone", "gone", "gone"),
        ),
        "intake:people": (
            Answers("door", "no", "no", "no", "page"),
            Answers("door", "no", "no", "no", "page"),
        ),
        "intake:invite": (
            Answers("door", "no", "no", "no", "page"),
            Answers("door", "no", "no", "no", "page"),
        ),
        "intake:invitation_revoke": (
            Answers("door", "no", "no", "no", "hidden"),
            Answers("door", "no", "no", "no", "hidden"),
        ),
        "intake:person": (
            Answers("door", "no", "no", "no", "page"),
            Answers("door", "no", "no", "no", "page"),
        ),
        "intake:person_role": (
            Answers("door", "method", "method", "method", "method"),
            Answers("door", "no", "no", "no", "away"),
        ),
        "intake:person_group": (
            Answers("door", "method", "method", "method", "method"),
            Answers("door", "no", "no", "no", "hidden"),
        ),
        "intake:person_off": (
            Answers("door", "no", "no", "no", "page"),
            Answers("door", "no", "no", "no", "page"),
        ),
        "intake:person_on": (
            Answers("door", "method", "method", "method", "method"),
            Answers("door", "no", "no", "no", "away"),
        ),
        "intake:group_new": (
            Answers("door", "no", "no", "no", "page"),
            Answers("door", "no", "no", "no", "page"),
        ),
        "intake:group": (
            Answers("door", "no", "no", "no", "page"),
            Answers("door", "no", "no", "no", "page"),
        ),
        "intake:group_add": (
            Answers("door", "method", "method", "method", "method"),
            Answers("door", "no", "no", "no", "hidden"),
        ),
        "intake:group_remove": (
            Answers("door", "method", "method", "method", "method"),
            Answers("door", "no", "no", "no", "hidden"),
        ),
        "intake:rulebooks": (
            Answers("door", "page", "page", "page", "page"),
            Answers("door", "method", "method", "method", "method"),
        ),
        "intake:rulebook": (
            Answers("door", "hidden", "hidden", "hidden", "page"),
            Answers("door", "method", "method", "method", "method"),
        ),
        "intake:rulebook_comparison": (
            Answers("door", "hidden", "hidden", "hidden", "page"),
            Answers("door", "method", "method", "method", "method"),
        ),
        "intake:rulebook_start": (
            Answers("door", "no", "no", "no", "page"),
            Answers("door", "no", "no", "no", "page"),
        ),
        "intake:rulebook_settings": (
            Answers("door", "no", "no", "no", "page"),
            Answers("door", "no", "no", "no", "page"),
        ),
        "intake:rulebook_row_new": (
            Answers("door", "no", "no", "no", "page"),
            Answers("door", "no", "no", "no", "page"),
        ),
        "intake:rulebook_row": (
            Answers("door", "no", "no", "no", "page"),
            Answers("door", "no", "no", "no", "page"),
        ),
        "intake:rulebook_row_remove": (
            Answers("door", "no", "no", "no", "page"),
            Answers("door", "no", "no", "no", "page"),
        ),
        "intake:rulebook_publish": (
            Answers("door", "no", "no", "no", "page"),
            Answers("door", "no", "no", "no", "page"),
        ),
        "intake:rulebook_discard": (
            Answers("door", "method", "method", "method", "method"),
            Answers("door", "no", "no", "no", "away"),
        ),
        "intake:rulebook_offer": (
            Answers("door", "method", "method", "method", "method"),
            Answers("door", "no", "no", "no", "form"),
        ),
        "intake:rules": (
            Answers("page", "page", "page", "page", "page"),
            Answers("method", "method", "method", "method", "method"),
        ),
        "intake:rule": (
            Answers("page", "page", "page", "page", "page"),
            Answers("method", "method", "method", "method", "method"),
        ),
        "intake:help": (
            Answers("page", "page", "page", "page", "page"),
            Answers("method", "method", "method", "method", "method"),
        ),
        "intake:guide": (
            Answers("page", "page", "page", "page", "page"),
            Answers("method", "method", "method", "method", "method"),
        ),
        "intake:reason": (
            Answers("page", "page", "page", "page", "page"),
            Answers("method", "method", "method", "method", "method"),
        ),
        "intake:reception": (
            Answers("door", "no", "no", "page", "page"),
            Answers("method", "method", "method", "method", "method"),
        ),
        "intake:command_card": (
            Answers("door", "no", "no", "page", "page"),
            Answers("method", "method", "method", "method", "method"),
        ),
        "intake:arrival_open": (
            Answers("door", "no", "no", "page", "page"),
            Answers("door", "no", "no", "form", "form"),
        ),
        "intake:arrival": (
            Answers("door", "no", "no", "page", "page"),
            Answers("method", "method", "method", "method", "method"),
        ),
        "intake:desk": (
            Answers("door", "no", "no", "page", "page"),
            Answers("door", "no", "no", "page", "page"),
        ),
        "intake:arrival_transport": (
            Answers("door", "no", "no", "page", "page"),
            Answers("door", "no", "no", "page", "page"),
        ),
        "intake:arrival_add": (
            Answers("door", "no", "no", "page", "page"),
            Answers("door", "no", "no", "page", "page"),
        ),
        "intake:arrival_group": (
            Answers("door", "no", "no", "page", "page"),
            Answers("door", "no", "no", "form", "form"),
        ),
        "intake:arrival_close": (
            Answers("door", "no", "no", "page", "page"),
            Answers("door", "no", "no", "form", "form"),
        ),
        "intake:photographs": (
            Answers("door", "no", "no", "page", "page"),
            Answers("door", "no", "no", "form", "form"),
        ),
        "intake:photograph": (
            Answers("door", "hidden", "hidden", "page", "page"),
            Answers("method", "method", "method", "method", "method"),
        ),
        "intake:photograph_remove": (
            Answers("door", "no", "no", "page", "page"),
            Answers("door", "no", "no", "form", "form"),
        ),
        "intake:arrival_unannounced": (
            Answers("door", "no", "no", "page", "page"),
            Answers("door", "no", "no", "page", "page"),
        ),
        "intake:arrival_slip": (
            Answers("door", "hidden", "page", "page", "page"),
            Answers("door", "method", "method", "method", "method"),
        ),
        "intake:storage": (
            Answers("door", "no", "no", "page", "page"),
            Answers("door", "no", "no", "page", "page"),
        ),
        "intake:discarding": (
            Answers("door", "no", "no", "page", "page"),
            Answers("door", "no", "no", "page", "page"),
        ),
        "intake:place_new": (
            Answers("door", "no", "no", "page", "page"),
            Answers("door", "no", "no", "form", "form"),
        ),
        "intake:place": (
            Answers("door", "no", "no", "page", "page"),
            Answers("method", "method", "method", "method", "method"),
        ),
        "intake:place_card": (
            Answers("door", "no", "no", "page", "page"),
            Answers("method", "method", "method", "method", "method"),
        ),
        "intake:questions": (
            Answers("door", "page", "page", "page", "page"),
            Answers("method", "method", "method", "method", "method"),
        ),
        "intake:question": (
            Answers("door", "hidden", "page", "page", "page"),
            Answers("door", "hidden", "form", "no", "form"),
        ),
        "intake:bottle": (
            Answers("door", "hidden", "page", "page", "page"),
            Answers("method", "method", "method", "method", "method"),
        ),
        "intake:bottle_check": (
            Answers("method", "method", "method", "method", "method"),
            Answers("door", "no", "no", "form", "form"),
        ),
        "intake:bottle_undo": (
            Answers("method", "method", "method", "method", "method"),
            Answers("door", "no", "no", "form", "form"),
        ),
        "intake:bottle_decide": (
            Answers("method", "method", "method", "method", "method"),
            Answers("door", "no", "no", "form", "form"),
        ),
        "intake:bottle_agree": (
            Answers("method", "method", "method", "method", "method"),
            Answers("door", "no", "no", "form", "form"),
        ),
        "intake:bottle_give_up": (
            Answers("method", "method", "method", "method", "method"),
            Answers("door", "no", "no", "form", "form"),
        ),
        "intake:bottle_restore": (
            Answers("method", "method", "method", "method", "method"),
            Answers("door", "no", "no", "form", "form"),
        ),
        "intake:labels": (
            Answers("door", "hidden", "page", "hidden", "page"),
            Answers("door", "method", "method", "method", "method"),
        ),
        "intake:packing_list": (
            Answers("door", "hidden", "page", "hidden", "page"),
            Answers("door", "method", "method", "method", "method"),
        ),
        "intake:blank_field_card": (
            Answers("page", "page", "page", "page", "page"),
            Answers("method", "method", "method", "method", "method"),
        ),
        "intake:results": (
            Answers("door", "no", "no", "no", "page"),
            Answers("door", "no", "no", "no", "form"),
        ),
        "intake:consignment_record": (
            Answers("door", "hidden", "page", "hidden", "page"),
            Answers("door", "method", "method", "method", "method"),
        ),
        "intake:results_template": (
            Answers("door", "no", "no", "no", "page"),
            Answers("door", "method", "method", "method", "method"),
        ),
        "intake:statement_draft": (
            Answers("door", "hidden", "no", "no", "page"),
            Answers("door", "hidden", "no", "no", "form"),
        ),
        "intake:statement": (
            Answers("door", "hidden", "page", "page", "page"),
            Answers("method", "method", "method", "method", "method"),
        ),
        "intake:statement_paper": (
            Answers("door", "hidden", "page", "page", "page"),
            Answers("method", "method", "method", "method", "method"),
        ),
        "intake:statement_file": (
            Answers("door", "hidden", "page", "page", "page"),
            Answers("method", "method", "method", "method", "method"),
        ),
    }
    | BENCH
    | DOORS
)
