using System.Globalization;
using System.Text;
using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.FromScore;

/// <summary>Makes a chart from a score: its sections in the order of its repeats and jumps, the tune with its words, chords, meters,
/// tempi, keys and a band.</summary>
/// <remarks>The chart's bars in playing order are those of the score: meter, chords, the notes of the tune with their places, tied lengths
/// and spelling, syllables by verse, and tempo. What cannot be so is in <see cref="SongChart.NotCarried"/>.</remarks>
public static class ChartMaker
{
    /// <summary>The chart of a score.</summary>
    /// <param name="music">The score.</param>
    /// <param name="options">Instruments, the part with the tune, and what a chart can express.</param>
    /// <exception cref="ChartProblemException">The score has no such part, no music, or a measure of a length that no bar can
    /// have.</exception>
    public static SongChart Make(WrittenMusic music, ChartMakerOptions options)
    {
        // Each rehearsal mark begins a section, so that too many are known before anything is inferred.
        var marked = music.Measures.Where(measure => measure.Marks.Any(mark => mark is RehearsalMark)).Skip(SectionCutter.MostBorders).FirstOrDefault();
        if (marked is not null)
        {
            throw SectionCutter.TooMany(marked.Origin);
        }

        if (options.AddChords is { } addChords && !music.Measures.Any(measure => measure.Chords.Any()))
        {
            music = addChords(music);
        }

        var losses = new LossList();
        var lines = TuneChoice.Lines(music, options.Part);
        var meters = new MeterFinder(music);
        if (music.Measures.Count == 0)
        {
            throw new ChartProblemException("the score has no measures; a chart needs at least one bar");
        }

        var keys = new KeyFinder(music, lines.Count > 0 ? lines[0] : null);
        var reader = new PlayedScoreReader(music, lines, options, meters, keys, losses);
        var score = reader.Read();
        if (score.Bars.Count == 0)
        {
            throw new ChartProblemException("the score has no full measure; a chart needs at least one bar", music.Measures[0].Origin);
        }

        if (score.Bars.Count > FormPlan.MostBars)
        {
            throw new ChartProblemException($"the score has more than {FormPlan.MostBars} bars with its repeats; a chart holds {FormPlan.MostBars}", score.Bars[FormPlan.MostBars].Origin);
        }

        BringWithinReach(score, lines.Count, music, options, losses);
        var drafts = new Drafts(score, lines, music, losses, options);
        LossScan.Add(music, lines, losses);
        var remarks = new List<ChartRemark>();
        if (keys.Remark is { } found)
        {
            remarks.Add(new ChartRemark(null, "key", found));
        }

        if (reader.FirstTempo is null)
        {
            remarks.Add(new ChartRemark(null, "tempo", "The score has no tempo; this one is assumed."));
        }

        remarks.AddRange(meters.Remarks());
        if (score.Bars.All(bar => bar.Chords.All(chord => chord.Symbol.IsNoChord)))
        {
            remarks.Add(new ChartRemark(0, "chords", "The score has no chords: write them here in place of N.C."));
        }

        return drafts.Made(remarks, music, options);
    }

    // Notes that no instrument reaches go to the nearest octave that it does.
    private static void BringWithinReach(PlayedScore score, int lines, WrittenMusic music, ChartMakerOptions options, LossList losses)
    {
        var all = score.Bars.SelectMany(bar => bar.Lines).Concat(score.Lead).ToList();
        var notes = all.SelectMany(line => line).Where(step => step.Pitch is not null).SelectMany(step => step.Graces.Append(step.Pitch!.Value)).Select(pitch => pitch.Midi).ToList();
        if (BandChoice.Reach(options.Catalogue, notes, lines) is not { } reach)
        {
            return;
        }

        foreach (var line in all)
        {
            for (var i = 0; i < line.Count; i++)
            {
                if (line[i].Pitch is { } pitch)
                {
                    var (moved, graces) = (Moved(pitch, reach), line[i].Graces.Select(grace => Moved(grace, reach)).ToList());
                    if (moved != pitch || !graces.SequenceEqual(line[i].Graces))
                    {
                        losses.Add("note beyond the range of every instrument", "it sounds in the nearest octave that one reaches", music.Measures[line[i].Measure], null);
                        line[i] = line[i] with { Pitch = moved, Graces = [.. graces] };
                    }
                }
            }
        }
    }

    private static Pitch Moved(Pitch pitch, (int Lowest, int Highest) reach)
    {
        var octaves = pitch.Midi < reach.Lowest ? (reach.Lowest - pitch.Midi + 11) / 12 : pitch.Midi > reach.Highest ? -((pitch.Midi - reach.Highest + 11) / 12) : 0;
        return octaves == 0 ? pitch : Pitch.AtMidi(pitch.Name, pitch.Midi + (12 * octaves));
    }

    // Different sections; endings are looked for among all pairs.
    private const int MostSections = 1_000;

    private sealed class Draft(int segment)
    {
        public int Segment => segment;

        public List<int> Segments { get; } = [];

        /// <summary>The bars that all endings share; all without endings.</summary>
        public int Common { get; set; }

        /// <summary>The segment that first plays each ending; empty for none.</summary>
        public List<int> Endings { get; } = [];

        /// <summary>For each playing the index of its ending.</summary>
        public Dictionary<int, int> EndingOf { get; } = [];
    }

    private sealed class Drafts
    {
        private readonly PlayedScore _score;
        private readonly IReadOnlyList<ScoreLine> _lines;
        private readonly LossList _losses;
        private readonly ChartMakerOptions _options;
        private readonly WrittenMusic _music;
        private readonly IReadOnlyList<Segment> _segments;
        private readonly List<Draft> _drafts = [];
        private readonly string[][] _tokens;
        private readonly string[] _heads;

        public Drafts(PlayedScore score, IReadOnlyList<ScoreLine> lines, WrittenMusic music, LossList losses, ChartMakerOptions options)
        {
            (_score, _lines, _music, _losses, _options) = (score, lines, music, losses, options);
            var cutter = new SectionCutter(score);
            _segments = cutter.Cut();
            _tokens = [.. _segments.Select((segment, s) => Enumerable.Range(segment.Start, segment.Bars)
                .Select(bar => SectionCutter.TokenOf(score.Bars[bar], EndOf(s, bar))).ToArray())];
            _heads = [.. _segments.Select(segment => $"{cutter.PickupText(segment.Start, segment.Pickup)};{score.Bars[segment.Start].Tempo};{score.Bars[segment.Start].Key}")];
            Gather();
            if (_drafts.Count > MostSections)
            {
                throw new ChartProblemException($"the score falls into more than {MostSections} sections; remove marks, changes of key or changes of tempo",
                    score.Bars[_segments[_drafts[MostSections].Segment].Start].Origin);
            }

            FindEndings();
            TellChangesInside();
        }

        public SongChart Made(List<ChartRemark> remarks, WrittenMusic music, ChartMakerOptions options)
        {
            var first = _score.Bars[0];
            var tunes = new List<(Tune? Body, List<Tune?> Endings)>();
            foreach (var draft in _drafts)
            {
                tunes.Add(TunesOf(draft));
            }

            var names = SectionNames.Of([.. _drafts.Select((draft, i) => Facts(draft, tunes[i]))]);
            var sections = _drafts.Select((draft, i) => SectionOf(draft, names[i], tunes[i])).ToList();
            var notes = tunes.SelectMany(one => one.Endings.Prepend(one.Body)).OfType<Tune>().SelectMany(tune => tune.Lines.Prepend(tune.Melody))
                .SelectMany(voice => voice.Notes).Select(note => note.Pitch.Midi).ToList();
            var lines = tunes.Max(one => one.Body is null ? 0 : 1 + one.Body.Lines.Count);
            var chart = new Chart
            {
                Title = TitleOf(music) ?? options.Title,
                Key = first.Key,
                Tempo = first.Tempo,
                Parts = notes.Count == 0 ? HouseBand.Parts(options.Catalogue) : BandChoice.Of(options.Catalogue, notes.Min(), notes.Max(), lines, _losses),
                Sections = sections,
                Form = Form(),
                Times = _score.Times,
                EndingChord = LastChord(),
            };
            return new SongChart(chart, _losses.Made())
            {
                TunePart = _lines.Count > 0 ? music.Parts[_lines[0].Part].Id : null,
                Inferred = Inferred(),
                Remarks = remarks,
                Headings = music.Headings,
                View = SingersKeys.Of(chart),
            };
        }

        private static string? TitleOf(WrittenMusic music)
        {
            // A song of a cycle has its own name; the work is the cycle.
            var titles = new[] { "movement-title", "work-title", "title" };
            var title = titles.Select(kind => music.Headings.FirstOrDefault(heading => heading.Kind == kind && !string.IsNullOrWhiteSpace(heading.Text))?.Text)
                .FirstOrDefault(text => text is not null);
            return title is null ? null : string.Join(' ', title.Split((char[]?)null, StringSplitOptions.RemoveEmptyEntries));
        }

        // The chord that rings out, if the piece does not end on its tonic chord.
        private ChordSymbol? LastChord()
        {
            var last = _score.Bars[^1];
            var chord = last.Chords[^1].Symbol;
            return chord.IsNoChord || (chord.Root == _score.Bars[0].Key.Tonic && chord.Text == $"{_score.Bars[0].Key.Tonic}{(_score.Bars[0].Key.IsMinor ? "m" : string.Empty)}")
                ? null
                : chord;
        }

        private Span EndOf(int segment, int bar)
        {
            var next = segment + 1 < _segments.Count && bar == _segments[segment].End - 1 ? _segments[segment + 1].Pickup : Span.Zero;
            return _score.Bars[bar].Length - next;
        }

        private void Gather()
        {
            var known = new Dictionary<string, Draft>(StringComparer.Ordinal);
            for (var s = 0; s < _segments.Count; s++)
            {
                var key = _heads[s] + "\n" + string.Join('\n', _tokens[s]);
                if (!known.TryGetValue(key, out var draft))
                {
                    known.Add(key, draft = new Draft(s) { Common = _segments[s].Bars });
                    _drafts.Add(draft);
                }

                draft.Segments.Add(s);
            }
        }

        // Sections that begin alike and differ only at their end are one, with endings.
        private void FindEndings()
        {
            for (var i = 0; i < _drafts.Count; i++)
            {
                var family = new List<Draft> { _drafts[i] };
                var common = int.MaxValue;
                for (var j = i + 1; j < _drafts.Count; j++)
                {
                    if (CommonBars(family, _drafts[j]) is { } shared && Math.Min(common, shared) is var least
                        && family.Append(_drafts[j]).All(one => Allows(one, _drafts[j], least)))
                    {
                        family.Add(_drafts[j]);
                        common = least;
                    }
                }

                if (family.Count < 2)
                {
                    continue;
                }

                var merged = _drafts[i];
                merged.Common = common;
                foreach (var one in family)
                {
                    merged.Endings.Add(one.Segment);
                    foreach (var segment in one.Segments)
                    {
                        merged.EndingOf[segment] = merged.Endings.Count - 1;
                    }
                }

                foreach (var one in family.Skip(1))
                {
                    merged.Segments.AddRange(one.Segments);
                    _drafts.Remove(one);
                }

                merged.Segments.Sort();
                RankEndings(merged);
            }
        }

        // Endings in the order in which they are first played.
        private static void RankEndings(Draft draft)
        {
            var order = draft.Segments.Select(segment => draft.EndingOf[segment]).Distinct().ToList();
            var endings = order.Select(ending => draft.Endings[ending]).ToList();
            foreach (var segment in draft.Segments)
            {
                draft.EndingOf[segment] = order.IndexOf(draft.EndingOf[segment]);
            }

            draft.Endings.Clear();
            draft.Endings.AddRange(endings);
        }

        private int? CommonBars(List<Draft> family, Draft other)
        {
            var (a, b) = (family[0], other);
            var names = (_segments[a.Segment].Name, _segments[b.Segment].Name);
            if (_heads[a.Segment] != _heads[b.Segment] || (names.Item1 is not null && names.Item2 is not null && names.Item1 != names.Item2))
            {
                return null;
            }

            var (one, two) = (_tokens[a.Segment], _tokens[b.Segment]);
            var common = 0;
            while (common < one.Length - 1 && common < two.Length - 1 && one[common] == two[common])
            {
                common++;
            }

            while (common > 0 && family.Append(other).Any(draft => _score.Bars[_segments[draft.Segment].Start + common].IsTiedInto))
            {
                common--;
            }

            return common < 2 ? null : common;
        }

        private bool Allows(Draft one, Draft other, int common)
        {
            var rest = _segments[one.Segment].Bars - common;
            var isWrittenSo = _score.Bars[_segments[one.Segment].Start].Measures[0] == _score.Bars[_segments[other.Segment].Start].Measures[0];
            return rest >= 1 && rest <= (isWrittenSo ? common : Math.Max(1, common / 2))
                && !_score.Bars[_segments[one.Segment].Start + common].IsTiedInto;
        }

        private void TellChangesInside()
        {
            foreach (var segment in _segments)
            {
                for (var bar = segment.Start + 1; bar < segment.End; bar++)
                {
                    var (before, now) = (_score.Bars[bar - 1], _score.Bars[bar]);
                    var measure = _music.Measures[now.Measures[0]];
                    if (before.Tempo != now.Tempo)
                    {
                        _losses.Add("change of tempo where a note sounds on", "it comes with the next section", measure, null, measure);
                    }

                    if (before.Key != now.Key)
                    {
                        _losses.Add("change of key where a note sounds on", "it comes with the next section", measure, null, measure);
                    }
                }
            }
        }

        private SectionFacts Facts(Draft draft, (Tune? Body, List<Tune?> Endings) tune)
        {
            var all = tune.Endings.Prepend(tune.Body).OfType<Tune>().ToList();
            return new SectionFacts(
                SectionNames.Shared([.. draft.Segments.Select(segment => _segments[segment].Name).OfType<string>()]),
                draft.Segments.Count * _score.Times,
                all.Exists(one => one.Notes.Count > 0),
                all.Exists(one => one.Verses.Count > 0),
                tune.Body?.Verses.Count ?? 0,
                draft.Segments[0] == 0,
                draft.Segments[^1] == _segments.Count - 1);
        }

        private Section SectionOf(Draft draft, string name, (Tune? Body, List<Tune?> Endings) tune)
        {
            var segment = _segments[draft.Segment];
            var body = Bars(segment.Start, draft.Common);
            var endings = draft.Endings.ConvertAll(s => Bars(_segments[s].Start + draft.Common, _segments[s].Bars - draft.Common));
            var usual = Usual(body, endings);
            var key = _score.Bars[segment.Start].Key;
            return new Section
            {
                Name = name,
                Bars = [.. body.Select((bar, i) => bar with { Inserted = bar.Meter != usual[i % usual.Count] })],
                BarGroups = new BarGroups(4),
                Endings = [.. endings.Select((bars, e) => new SectionEnding([.. bars.Select((bar, i) => bar with { Inserted = bar.Meter != usual[i % usual.Count] })], tune.Endings[e]))],
                Tempo = NeedsTempo(draft) ? new TempoChange(_score.Bars[segment.Start].Tempo, null, null) : null,
                Ramps = RampsOf(segment.Start, segment.Start + (endings.Count == 0 ? draft.Common : segment.Bars), endings.Count == 0),
                Key = key == _score.Bars[0].Key ? null : key,
                Tune = tune.Body,
            };
        }

        // The gradual changes of tempo that lie in a section as a whole; with endings its last bars differ, so that it has none.
        private List<TempoRise> RampsOf(int start, int end, bool canHaveRamps)
        {
            var ramps = new List<TempoRise>();
            for (var bar = start; bar < end; bar++)
            {
                if (_score.Bars[bar].Ramp is not { } ramp)
                {
                    continue;
                }

                var first = bar;
                while (bar + 1 < end && _score.Bars[bar + 1].Ramp == ramp)
                {
                    bar++;
                }

                var measure = _music.Measures[ramp.First];
                if (!canHaveRamps || _score.Bars[first].Measures[0] != ramp.First || _score.Bars[bar].Measures[^1] < ramp.Last)
                {
                    _losses.Add("gradual change of tempo over a section's border", "the tempo stays", measure, null, ramp);
                    continue;
                }

                ramps.Add((bar + 1 == end ? new TempoRise(ramp.To, 0, bar - first + 1) : new TempoRise(ramp.To, first - start + 1, bar - start + 1)) with
                {
                    After = ramp.IsBack ? new TempoAfter(null) : null,
                });
            }

            return ramps;
        }

        private List<ChartBar> Bars(int from, int count) =>
            [.. _score.Bars.Skip(from).Take(count).Select(bar => new ChartBar(bar.Meter, bar.Chords, false))];

        // Meters that alternate through the whole section and its endings, at least twice; otherwise the most frequent one.
        private static IReadOnlyList<BarMeter> Usual(List<ChartBar> body, List<List<ChartBar>> endings)
        {
            var meters = body.ConvertAll(bar => bar.Meter);
            for (var size = 2; 2 * size <= meters.Count && size <= 4; size++)
            {
                var round = meters.Take(size).ToList();
                if (meters.Select((meter, i) => meter == round[i % size]).All(same => same) && round.Distinct().Count() > 1
                    && endings.TrueForAll(bars => bars.Select((bar, i) => bar.Meter == round[i % size]).All(same => same)))
                {
                    return round;
                }
            }

            return [meters.GroupBy(meter => meter).MaxBy(group => group.Count())!.Key];
        }

        // A tempo is written wherever the section before may leave another one.
        private bool NeedsTempo(Draft draft)
        {
            var own = _score.Bars[_segments[draft.Segment].Start].Tempo;
            return draft.Segments.Exists(s => (s == 0 ? _score.Bars[0].Tempo : _score.Bars[_segments[s - 1].Start].Tempo) != own);
        }

        private List<FormStep> Form()
        {
            var steps = new List<FormStep>();
            var section = new int[_segments.Count];
            for (var i = 0; i < _drafts.Count; i++)
            {
                foreach (var s in _drafts[i].Segments)
                {
                    section[s] = i;
                }
            }

            for (var s = 0; s < _segments.Count; s++)
            {
                var draft = _drafts[section[s]];
                var usual = draft.Segments.Select((one, n) => draft.Endings.Count == 0 || draft.EndingOf[one] == Math.Min(n, draft.Endings.Count - 1)).All(same => same);
                var step = new FormStep(section[s], 1) { Ending = usual ? null : draft.EndingOf[s] + 1 };
                if (steps.Count > 0 && steps[^1] with { Times = 1 } == step)
                {
                    steps[^1] = steps[^1] with { Times = steps[^1].Times + 1 };
                }
                else
                {
                    steps.Add(step);
                }
            }

            return steps;
        }

        private List<InferredChord> Inferred()
        {
            var inferred = new List<InferredChord>();
            for (var i = 0; i < _drafts.Count; i++)
            {
                var draft = _drafts[i];
                var bars = Enumerable.Range(_segments[draft.Segment].Start, draft.Common)
                    .Concat(draft.Endings.SelectMany(s => Enumerable.Range(_segments[s].Start + draft.Common, _segments[s].Bars - draft.Common))).ToList();
                for (var b = 0; b < bars.Count; b++)
                {
                    var bar = _score.Bars[bars[b]];
                    for (var c = 0; c < bar.Chords.Count; c++)
                    {
                        // A chord that only continues has been told where it begins.
                        if (bar.ChordMarks[c] is { } mark && (b == 0 || c > 0 || !ReferenceEquals(_score.Bars[bars[b - 1]].ChordMarks[^1], mark)))
                        {
                            var alternatives = mark.Alternatives.Select(one => ChordReading.Read(one.Chord).Symbol).OfType<ChordSymbol>().ToList();
                            inferred.Add(new InferredChord(i, b, c, Math.Max(0, 1 - mark.Alternatives.Sum(one => one.Confidence)), alternatives));
                        }
                    }
                }
            }

            return inferred;
        }

        private (Tune? Body, List<Tune?> Endings) TunesOf(Draft draft)
        {
            var segment = _segments[draft.Segment];
            var bodyBars = Enumerable.Range(segment.Start, draft.Common).ToList();
            var used = Enumerable.Range(0, _lines.Count).Where(line => Sounds(draft, line)).ToList();
            if (used.Count == 0)
            {
                return (null, [.. draft.Endings.Select(_ => (Tune?)null)]);
            }

            if (used[0] != 0)
            {
                used.Insert(0, 0);
            }

            var body = new TuneBuilder([.. bodyBars.Select(bar => _score.Bars[bar].Length)]);
            foreach (var line in used)
            {
                var measures = Written(draft.Segment, line, PickupOf(segment, line), bodyBars);
                body.Add(_lines[line].Name, measures, Verses(draft.Segments, line, draft.Common, ending: null));
                TellMarks(draft, line);
            }

            var endings = new List<Tune?>();
            for (var e = 0; e < draft.Endings.Count; e++)
            {
                var s = draft.Endings[e];
                var bars = Enumerable.Range(_segments[s].Start + draft.Common, _segments[s].Bars - draft.Common).ToList();
                var builder = new TuneBuilder([.. bars.Select(bar => _score.Bars[bar].Length)]);
                foreach (var line in used)
                {
                    builder.Add(_lines[line].Name, Written(s, line, [], bars), Verses([.. draft.Segments.Where(one => draft.EndingOf[one] == e)], line, draft.Common, e));
                }

                endings.Add(builder.Made());
            }

            return (body.Made(), endings);
        }

        private bool Sounds(Draft draft, int line) => draft.Endings.Append(draft.Segment).Any(s =>
            PickupOf(_segments[s], line).Exists(step => step.Pitch is not null)
            || Enumerable.Range(_segments[s].Start, _segments[s].Bars).Any(bar => StepsIn(s, bar, line).Exists(step => step.Pitch is not null)));

        // The notes of a line that lead into a segment, from the start of its pickup.
        private List<Step> PickupOf(Segment segment, int line)
        {
            if (segment.Pickup == Span.Zero)
            {
                return [];
            }

            if (segment.Start == 0)
            {
                return _score.Lead[line];
            }

            var from = _score.Bars[segment.Start - 1].Length - segment.Pickup;
            return
            [
                .. _score.Bars[segment.Start - 1].Lines[line].Where(step => step.End > from).Select(step => step with
                {
                    Onset = Span.Max(step.Onset, from) - from,
                    Length = step.End - Span.Max(step.Onset, from),
                }),
            ];
        }

        private List<Step> StepsIn(int segment, int bar, int line)
        {
            var steps = _score.Bars[bar].Lines[line];
            var end = EndOf(segment, bar);
            return end == _score.Bars[bar].Length ? steps
                : [.. steps.Where(step => step.Onset < end).Select(step => step.End > end ? step with { Length = end - step.Onset } : step),
                    new Step(end, _score.Bars[bar].Length - end, null) { Measure = steps[^1].Measure }];
        }

        private TuneMeasures Written(int segment, int line, List<Step> pickup, List<int> bars)
        {
            var all = new List<List<Step>> { pickup };
            all.AddRange(bars.Select(bar => StepsIn(segment, bar, line)));
            var marks = new MarkPairs(_options, _losses, _music);
            for (var i = 0; i < all.Count; i++)
            {
                all[i] = [.. Plain(all[i]).Select(marks.Take)];
            }

            marks.Close(all);
            return new TuneMeasures(
                pickup.Count == 0 ? PartMeasure.Empty : Measure(all[0], isBar: false),
                [.. all.Skip(1).Select(steps => Measure(steps, isBar: true))]);
        }

        // Marks that another playing of the same music has, or lacks.
        private void TellMarks(Draft draft, int line)
        {
            var own = MarksOf(draft.Segment);
            foreach (var s in draft.Segments.Where(s => s != draft.Segment))
            {
                foreach (var (bar, onset, mark, measure) in MarksOf(s).Where(mark => mark.Bar < draft.Common && !own.Exists(other => other.Bar == mark.Bar && other.Onset == mark.Onset && other.Mark == mark.Mark)))
                {
                    _losses.Add($"{LossScan.NameOf(mark)} in a later playing", "the first playing's marks are kept", _music.Measures[measure], null, null);
                }
            }

            List<(int Bar, Span Onset, Mark Mark, int Measure)> MarksOf(int s) =>
            [
                .. Enumerable.Range(0, Math.Min(draft.Common, _segments[s].Bars)).SelectMany(bar => StepsIn(s, _segments[s].Start + bar, line)
                    .SelectMany(step => step.Marks.Select(mark => (bar, step.Onset, mark, step.Measure)))),
            ];
        }

        // Ties inside a bar are one longer note, and rests beside each other one rest, outside tuplets.
        private static List<Step> Plain(List<Step> steps)
        {
            var plain = new List<Step>();
            foreach (var step in steps)
            {
                var last = plain.Count > 0 ? plain[^1] : null;
                var joins = last is not null && last.Tuplets.Count == 0 && step.Tuplets.Count == 0
                    && (last.Pitch is null ? step.Pitch is null && step.Marks.Count == 0 : step.Pitch is not null && last.TiedTo && step.TiedFrom);
                if (joins)
                {
                    plain[^1] = last! with { Length = last.Length + step.Length, TiedTo = step.TiedTo, Marks = [.. last.Marks, .. step.Marks.Where(mark => !last.Marks.Contains(mark))] };
                }
                else
                {
                    plain.Add(step);
                }
            }

            return plain;
        }

        private static PartMeasure Measure(List<Step> steps, bool isBar)
        {
            var events = new List<VoiceEvent>();
            var placed = new List<PlacedMark>();
            foreach (var step in steps)
            {
                var ratio = step.Tuplets.Aggregate(Rational.One, (product, tuplet) => product * tuplet.Ratio);
                var value = NoteUnit.TryFrom(step.Length / ratio, out var unit) ? new WrittenValue(unit, step.Tuplets.AsSpan()) : null;
                placed.AddRange(step.Marks.Where(IsPlaced).Select(mark => new PlacedMark(step.Onset, mark)));
                ValueList<Mark> marks = [.. step.Marks.Where(mark => !IsPlaced(mark))];
                if (step.Pitch is { } pitch)
                {
                    events.AddRange(step.Graces.Select(TuneBuilder.Grace));
                    var head = WrittenNote.Of(pitch) with { TiedFrom = step.TiedFrom ? new TieEnd() : null, TiedTo = step.TiedTo ? new TieEnd() : null };
                    events.Add(new NotesEvent([head], value, value is null ? step.Length : null)
                    {
                        TupletsApart = value is null ? step.Tuplets : [],
                        Marks = marks,
                        Late = step.Late,
                    });
                }
                else
                {
                    var whole = isBar && steps.Count == 1 && marks.Count == 0;
                    events.Add(new RestEvent(whole ? null : value, whole || value is null ? step.Length : null)
                    {
                        IsWholeMeasure = whole,
                        TupletsApart = value is null && !whole ? step.Tuplets : [],
                        Marks = marks,
                    });
                }
            }

            return new PartMeasure { Voices = [new VoiceMeasure("1", [.. events])], Marks = [.. placed] };
        }

        private static bool IsPlaced(Mark mark) => mark.Kind is MarkKind.Dynamics or MarkKind.Wedge;

        // The verses of a line: one for each playing, as few as come again in the same order.
        private List<IReadOnlyList<Syllable?>> Verses(List<int> playings, int line, int common, int? ending)
        {
            var all = new List<List<Syllable?>>();
            for (var lap = 0; lap < _score.Times; lap++)
            {
                foreach (var s in playings)
                {
                    var bars = Enumerable.Range(_segments[s].Start, _segments[s].Bars).ToList();
                    var steps = ending is null
                        ? PickupOf(_segments[s], line).Concat(bars.Take(common).SelectMany(bar => StepsIn(s, bar, line)))
                        : bars.Skip(common).SelectMany(bar => StepsIn(s, bar, line));
                    all.Add(VerseWords.Of(steps, lap));
                }
            }

            if (all.TrueForAll(verse => verse.TrueForAll(syllable => syllable is null)))
            {
                return [];
            }

            var size = 1;
            while (size < all.Count && !Enumerable.Range(size, all.Count - size).All(i => all[i].SequenceEqual(all[i % size])))
            {
                size++;
            }

            return [.. all.Take(size)];
        }
    }
}
