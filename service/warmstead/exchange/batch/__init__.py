"""One question asked of many houses: item by item, so that one bad document never spoils the others.

stating    what one item gets: its answer, or the problem with it
summary    an answer cut down to its totals
sources    where items come from: NDJSON, a folder of JSON documents, Parquet
parts      items put together into parts, each with a key made of all that its answers depend on
ledger     which parts are done: what makes a run that was stopped go on where it was
outputs    answers written as NDJSON or Parquet, part by part, then joined
pools      who works: processes of this machine, or a cluster
job        a whole run
"""
