package plan

// BothReject is for the reference answers.
var BothReject = bothReject
