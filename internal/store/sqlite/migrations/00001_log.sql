-- +goose Up
create table shop (
  shop       text primary key not null,
  public_key text not null,
  size       integer not null,
  frontier   blob not null,
  last_time  integer not null
) strict, without rowid;

create table entry (
  shop    text not null,
  seq     integer not null,
  at      integer not null,
  kind    text not null,
  subject text not null,
  person  text not null,
  key     text,
  leaf    blob not null,
  raw     blob not null,
  primary key (shop, seq)
) strict;
create unique index entry_key on entry (shop, key) where key is not null;
create index entry_subject on entry (shop, subject, seq);

create table node (
  shop  text not null,
  id    integer not null,
  hash  blob not null,
  primary key (shop, id)
) strict, without rowid;

create table checkpoint (
  shop   text not null,
  size   integer not null,
  reason text not null,
  signed text not null,
  primary key (shop, size, reason)
) strict, without rowid;

create table thing (
  shop text not null,
  kind text not null,
  id   text not null,
  seq  integer not null,
  doc  text not null,
  primary key (shop, kind, id)
) strict, without rowid;

create table determination (
  shop          text not null,
  id            text not null,
  seq           integer not null,
  at            integer not null,
  number        text not null,
  state         text not null,
  person        text not null,
  station       text not null,
  item          text not null,
  description   text not null,
  barcode       text not null,
  claim         text not null,
  metal         text not null,
  fineness      real not null,
  finding       text not null,
  mass_g        real not null,
  density_kg_m3 real not null,
  density_u     real not null,
  safe_ppt      real not null,
  doubts        integer not null,
  superseded_by text not null,
  primary key (shop, seq)
) strict, without rowid;
create unique index determination_id on determination (shop, id);
create index determination_number on determination (shop, number, seq);
create index determination_barcode on determination (shop, barcode, seq) where barcode <> '';
create index determination_item on determination (shop, item, seq) where item <> '';
create index determination_at on determination (shop, (seq / 4096), at);
create index determination_density on determination (shop, density_kg_m3, seq);
create index determination_person on determination (shop, person, seq);
create index determination_station on determination (shop, station, seq);
create index determination_finding on determination (shop, finding, seq);
create index determination_state on determination (shop, state, seq);
create index determination_metal on determination (shop, metal, seq);

create table word (
  shop text not null,
  word text not null,
  seq  integer not null,
  primary key (shop, word, seq)
) strict, without rowid;

create table secret (
  shop  text not null,
  kind  text not null,
  id    text not null,
  value blob not null,
  primary key (shop, kind, id)
) strict, without rowid;

create table attachment (
  shop text not null,
  hash text not null,
  data blob not null,
  primary key (shop, hash)
) strict;

-- +goose StatementBegin
create trigger entry_stays before update on entry begin select raise(abort, 'an entry of the log is never changed'); end;
-- +goose StatementEnd
-- +goose StatementBegin
create trigger entry_remains before delete on entry begin select raise(abort, 'an entry of the log is never deleted'); end;
-- +goose StatementEnd
-- +goose StatementBegin
create trigger node_stays before update on node begin select raise(abort, 'a node of the tree is never changed'); end;
-- +goose StatementEnd
-- +goose StatementBegin
create trigger node_remains before delete on node begin select raise(abort, 'a node of the tree is never deleted'); end;
-- +goose StatementEnd
-- +goose StatementBegin
create trigger checkpoint_stays before update on checkpoint begin select raise(abort, 'a checkpoint is never changed'); end;
-- +goose StatementEnd
-- +goose StatementBegin
create trigger checkpoint_remains before delete on checkpoint begin select raise(abort, 'a checkpoint is never deleted'); end;
-- +goose StatementEnd
-- +goose StatementBegin
create trigger shop_grows before update on shop when new.size < old.size or new.shop <> old.shop begin select raise(abort, 'a log never shrinks'); end;
-- +goose StatementEnd
-- +goose StatementBegin
create trigger shop_remains before delete on shop begin select raise(abort, 'a log is never deleted'); end;
-- +goose StatementEnd

-- "insert or replace" deletes the row that is in its way without asking the triggers above.
-- +goose StatementBegin
create trigger entry_enters before insert on entry
when exists (select 1 from entry where shop = new.shop and seq = new.seq) or exists (select 1 from entry where shop = new.shop and key = new.key)
begin select raise(abort, 'an entry of the log is never replaced, and no mark is used twice'); end;
-- +goose StatementEnd
-- +goose StatementBegin
create trigger node_enters before insert on node when exists (select 1 from node where shop = new.shop and id = new.id) begin select raise(abort, 'a node of the tree is never replaced'); end;
-- +goose StatementEnd
-- +goose StatementBegin
create trigger checkpoint_enters before insert on checkpoint when exists (select 1 from checkpoint where shop = new.shop and size = new.size and reason = new.reason) begin select raise(abort, 'a checkpoint is never replaced'); end;
-- +goose StatementEnd
-- +goose StatementBegin
create trigger shop_enters before insert on shop when exists (select 1 from shop where shop = new.shop) begin select raise(abort, 'a log is never replaced'); end;
-- +goose StatementEnd
