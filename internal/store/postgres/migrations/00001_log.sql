-- +goose Up
create table shop (
  shop       text collate "C" primary key not null,
  public_key text collate "C" not null,
  size       bigint not null,
  frontier   bytea not null,
  last_time  bigint not null
);

create table entry (
  shop    text collate "C" not null,
  seq     bigint not null,
  at      bigint not null,
  kind    text collate "C" not null,
  subject text collate "C" not null,
  person  text collate "C" not null,
  key     text collate "C",
  leaf    bytea not null,
  raw     bytea not null,
  primary key (shop, seq)
);
create unique index entry_key on entry (shop, key) where key is not null;
create index entry_subject on entry (shop, subject, seq);

create table node (
  shop  text collate "C" not null,
  id    bigint not null,
  hash  bytea not null,
  primary key (shop, id)
);

create table checkpoint (
  shop   text collate "C" not null,
  size   bigint not null,
  reason text collate "C" not null,
  signed text collate "C" not null,
  primary key (shop, size, reason)
);

create table thing (
  shop text collate "C" not null,
  kind text collate "C" not null,
  id   text collate "C" not null,
  seq  bigint not null,
  doc  text collate "C" not null,
  primary key (shop, kind, id)
);

create table determination (
  shop          text collate "C" not null,
  id            text collate "C" not null,
  seq           bigint not null,
  at            bigint not null,
  number        text collate "C" not null,
  state         text collate "C" not null,
  person        text collate "C" not null,
  station       text collate "C" not null,
  item          text collate "C" not null,
  description   text collate "C" not null,
  barcode       text collate "C" not null,
  claim         text collate "C" not null,
  metal         text collate "C" not null,
  fineness      double precision not null,
  finding       text collate "C" not null,
  mass_g        double precision not null,
  density_kg_m3 double precision not null,
  density_u     double precision not null,
  safe_ppt      double precision not null,
  doubts        bigint not null,
  superseded_by text collate "C" not null,
  primary key (shop, seq)
);
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
  shop text collate "C" not null,
  word text collate "C" not null,
  seq  bigint not null,
  primary key (shop, word, seq)
);

create table secret (
  shop  text collate "C" not null,
  kind  text collate "C" not null,
  id    text collate "C" not null,
  value bytea not null,
  primary key (shop, kind, id)
);

create table attachment (
  shop text collate "C" not null,
  hash text collate "C" not null,
  data bytea not null,
  primary key (shop, hash)
);

-- +goose StatementBegin
create function wreath_refuse() returns trigger language plpgsql as $$
begin
  raise exception '% of % is refused: the log is never changed', tg_op, tg_table_name;
end $$;
-- +goose StatementEnd
-- +goose StatementBegin
create function wreath_grows() returns trigger language plpgsql as $$
begin
  if new.size < old.size or new.shop <> old.shop then
    raise exception 'a log never shrinks';
  end if;
  return new;
end $$;
-- +goose StatementEnd
create trigger entry_stays before update or delete on entry for each row execute function wreath_refuse();
create trigger entry_remains before truncate on entry for each statement execute function wreath_refuse();
create trigger node_stays before update or delete on node for each row execute function wreath_refuse();
create trigger node_remains before truncate on node for each statement execute function wreath_refuse();
create trigger checkpoint_stays before update or delete on checkpoint for each row execute function wreath_refuse();
create trigger checkpoint_remains before truncate on checkpoint for each statement execute function wreath_refuse();
create trigger shop_grows before update on shop for each row execute function wreath_grows();
create trigger shop_remains before delete on shop for each row execute function wreath_refuse();
create trigger shop_stays before truncate on shop for each statement execute function wreath_refuse();
