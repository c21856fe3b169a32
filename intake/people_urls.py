"""Addresses of people, groups and the first page."""

from django.urls import path

from intake.views import calendars, doors, gallery, home, language, myself, people

urlpatterns = [
    path("", home.home, name="home"),
    path("gallery/", gallery.gallery, name="gallery"),
    path("language/", language.choose, name="language"),
    path("profile/", myself.profile, name="profile"),
    path("profile/sessions/", doors.sessions, name="sessions"),
    path("profile/calendar/", calendars.calendar_address, name="calendar_address"),
    path("calendar/<str:secret>.ics", calendars.calendar, name="calendar"),
    path("invitation/<str:token>/", myself.invitation, name="invitation"),
    path("people/", people.listing, name="people"),
    path("people/policy/", doors.lab_policy, name="lab_policy"),
    path("people/kept/", doors.kept_long_enough, name="kept_long_enough"),
    path("people/invite/", people.invite, name="invite"),
    path("people/invitations/<int:pk>/revoke/", people.revoke, name="invitation_revoke"),
    path("people/<int:pk>/", people.person, name="person"),
    path("people/<int:pk>/role/", people.person_role, name="person_role"),
    path("people/<int:pk>/groups/", people.person_group, name="person_group"),
    path("people/<int:pk>/off/", people.person_off, name="person_off"),
    path("people/<int:pk>/sessions/", doors.person_sessions, name="person_sessions"),
    path("people/<int:pk>/factor/", doors.person_factor, name="person_factor"),
    path("people/<int:pk>/forget/", doors.person_forget, name="person_forget"),
    path("people/<int:pk>/on/", people.person_on, name="person_on"),
    path("people/groups/new/", people.group_new, name="group_new"),
    path("people/groups/<int:pk>/", people.group, name="group"),
    path("people/groups/<int:group_pk>/add/", people.membership, {"verb": "add"}, name="group_add"),
    path("people/groups/<int:group_pk>/remove/", people.membership, {"verb": "remove"}, name="group_remove"),
]
