"""The report of a job: one content, set as HTML and as PDF.

`record` reads what the record holds of a job; `summary`, `bench`, `steps` and `cautions` put it into words and figures,
and `report` puts these together; `content` is what they come to, in blocks that know nothing of either form; `html` and
`pdf` set the blocks.
"""
