using System.Globalization;
using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;
using GrooveLab.Music.Wording;
using MeterMark = GrooveLab.Music.Notation.MeterMark;

namespace GrooveLab.Music.ToScore;

/// <summary>Options of a <see cref="BandScore"/>.</summary>
public sealed record BandScoreOptions
{
    /// <summary>The name of the only part to write; null for the whole band.</summary>
    public string? Part { get; init; }
}

/// <summary>Writes down what the band plays: a part for each player, the whole form written out, as a copyist would. Notes stand at their written
/// places, without swing, laying back and human feel. Pure: the same bars give the same score.</summary>
public static class BandScore
{
    // The order of a score, from the top.
    private static readonly Role[] Order = [Role.Tune, Role.Pulse, Role.Roll, Role.Sustain, Role.Bass, Role.Count];

    /// <summary>The score of all bars of a band, from the pickup to the last, ringing bar. The lead-in (chord, start note, clicks) is not
    /// written.</summary>
    /// <param name="band">The band; it must come to an end.</param>
    /// <param name="options">Options; null for the defaults.</param>
    /// <param name="token">Stops the work.</param>
    /// <exception cref="ArgumentException">The band has no end, or no part of the name asked for that plays.</exception>
    /// <exception cref="OperationCanceledException">It was stopped.</exception>
    public static WrittenMusic Of(BarComposer band, BandScoreOptions? options = null, CancellationToken token = default)
    {
        ArgumentNullException.ThrowIfNull(band);
        var end = band.End ?? throw new ArgumentException("The band plays without end; give its number of bars.", nameof(band));
        return new Writer(band, options ?? new BandScoreOptions()).Write(end, token);
    }

    private sealed class Writer
    {
        private readonly BarComposer _band;
        private readonly FormPlan _plan;
        private readonly PartScorer[] _scorers;
        private readonly Part[] _players;
        private readonly List<ScoreMeasure> _measures = [];
        private readonly List<Measure> _grid = [];
        private readonly TempoSigns _tempi = new();
        private readonly ValueList<PrintPlace> _everywhere;
        private readonly ValueList<PrintPlace> _top;
        private readonly Dictionary<ChordSymbol, ValueList<WrittenChord>> _chords = [];
        private Key? _key;
        private BarMeter? _meter;
        private ChordSymbol? _chord;
        private SectionRun? _run;
        private int _letters;
        private int _finished;

        public Writer(BarComposer band, BandScoreOptions options)
        {
            (_band, _plan) = (band, band.Plan);
            var chart = band.Chart;
            var listed = Enumerable.Range(0, chart.Parts.Count)
                .Where(part => chart.Parts[part].Settings is not CountSettings { On: CountOn.Nothing })
                .Where(part => options.Part is not { } name || string.Equals(chart.Parts[part].Name, name, StringComparison.OrdinalIgnoreCase))
                .OrderBy(part => Array.IndexOf(Order, chart.Parts[part].Role))
                .ToList();
            if (listed.Count == 0)
            {
                throw new ArgumentException(
                    options.Part is { } asked ? $"No part called {asked} plays; parts: {Words.And([.. chart.Parts.Select(part => part.Name)])}." : "No part plays.", nameof(options));
            }

            _players = [.. listed.Select(part => chart.Parts[part])];
            _scorers = [.. listed.Select((part, i) => new PartScorer(part, string.Create(CultureInfo.InvariantCulture, $"P{i + 1}"), chart.Parts[part], _plan))];
            _everywhere = [.. _scorers.Select(scorer => new PrintPlace(scorer.Id))];
            _top = [new PrintPlace(_scorers[0].Id)];
        }

        public WrittenMusic Write(int end, CancellationToken token)
        {
            AddPickup(_band.BarAt(-1));
            foreach (var batch in AllBars.InBatches(_band, 0, end, token))
            {
                var known = _measures.Count;
                var places = new List<(Bar Bar, Span At, int Measures)>(batch.Length);
                foreach (var bar in batch)
                {
                    var at = bar.Start - _plan.BarAt(0).Start;
                    AddBar(bar, at);
                    places.Add((bar, at, _measures.Count));
                }

                var measures = _measures;
                var ready = Math.Max(_finished, measures.Count - PartScorer.BarsAhead);
                Parallel.For(0, _scorers.Length, new ParallelOptions { CancellationToken = token }, part =>
                {
                    foreach (var (bar, at, count) in places)
                    {
                        _scorers[part].Take(bar, at, measures, count);
                    }

                    for (var i = _finished; i < ready; i++)
                    {
                        _scorers[part].Finish(measures[i]);
                    }
                });
                _finished = ready;
            }

            Parallel.For(0, _scorers.Length, part =>
            {
                _scorers[part].End(_measures[^1]);
                for (var i = _finished; i < _measures.Count; i++)
                {
                    _scorers[part].Finish(_measures[i]);
                }
            });
            CloseBarlines();
            return new WrittenMusic([.. _grid], [.. _scorers.Select(PartOf)]) { Headings = Headings() };
        }

        private ValueList<Heading> Headings() =>
            _band.Chart.Title.Length == 0 ? [] : [new Heading("work-title", null, _band.Chart.Title)];

        private WrittenPart PartOf(PartScorer scorer, int index)
        {
            var player = _players[index];
            var sung = player.Role == Role.Tune && _band.Chart.Sections.Any(section => section.Tune is { Verses.Count: > 0 } || section.Endings.Any(ending => ending.Tune is { Verses.Count: > 0 }));
            return new WrittenPart(scorer.Id, [.. scorer.Measures])
            {
                Name = player.Name,
                Role = player.Role,
                Instruments = player.Instrument.Unpitched
                    ? Percussion.Of(scorer.Id)
                    : [new PartInstrument(scorer.Id + "-I1", player.Instrument.Name) { Program = player.Instrument.Program }],
                Verses = sung ? ["1"] : [],
            };
        }

        // The pickup of the tune, from the lead-in: a part of a bar, and whole bars if it is longer.
        private void AddPickup(Bar leadIn)
        {
            var length = Span.Zero;
            foreach (var note in leadIn.Notes)
            {
                if (note.Written is { Tune: not null, Ornament: null } && _players.Any(player => player == _band.Chart.Parts.ElementAtOrDefault(note.Part)))
                {
                    length = Span.Max(length, leadIn.Length - note.Written.Onset);
                }
            }

            if (length <= Span.Zero)
            {
                return;
            }

            var meter = leadIn.Meter;
            var whole = (length / meter.Length).Floor();
            var part = length - (meter.Length * whole);
            var at = -length;
            for (var i = part > Span.Zero ? -1 : 0; i < whole; i++)
            {
                var here = i < 0 ? part : meter.Length;
                AddMeasure(new ScoreMeasure(_measures.Count, at, here, meter, leadIn.Key, leadIn) { Offset = meter.Length - here }, "0", isUncounted: true, marks =>
                {
                    if (marks.Count > 0)
                    {
                        marks.Add(_tempi.Before(_plan.BarAt(0).Tempo) with { Where = _top });
                    }
                });
                at += here;
            }

            foreach (var scorer in _scorers)
            {
                scorer.Take(leadIn, -leadIn.Length, _measures, _measures.Count);
            }
        }

        private void AddBar(Bar bar, Span at)
        {
            var number = string.Create(CultureInfo.InvariantCulture, $"{bar.Index + 1}");
            if (bar.IsEnding)
            {
                var bars = (bar.Length / bar.Meter.Length).Floor();
                for (var i = 0; i < bars; i++)
                {
                    var measure = new ScoreMeasure(_measures.Count, at + (bar.Meter.Length * i), bar.Meter.Length, bar.Meter, bar.Key, bar) { StartsRun = i == 0, IsEnding = true };
                    AddMeasure(measure, string.Create(CultureInfo.InvariantCulture, $"{bar.Index + 1 + i}"), isUncounted: false, marks =>
                    {
                        if (i == 0)
                        {
                            AddChords(bar, marks);
                            marks.AddRange(_tempi.AtTheEnd(bar) is { } sign ? [sign with { Where = _top }] : []);
                        }
                    });
                }

                return;
            }

            var place = _plan.BarAt(bar.Index);
            var starts = place.IndexInRun == 0;
            AddMeasure(new ScoreMeasure(_measures.Count, at, bar.Length, bar.Meter, bar.Key, bar) { Place = place, StartsRun = starts, IsFirstBar = bar.Index == 0 }, number, isUncounted: false, marks =>
            {
                if (starts)
                {
                    marks.Add(new RehearsalMark(Span.Zero, RehearsalLetters.Of(_letters++)) { Where = _top });
                    marks.Add(new WordsMark(Span.Zero, place.Run.Section.Name) { Where = _top });
                }

                var before = starts && _run is not null ? _run.Section : null;
                foreach (var sign in _tempi.Of(bar, place, before))
                {
                    marks.Add(sign with { Where = _top });
                }

                AddChords(bar, marks);
                if (place.IsLastOfRun)
                {
                    marks.Add(new BarlineMark(bar.Length, BarlineSide.Right, "light-light") { Where = _everywhere });
                }
            });
            _run = place.Run;
        }

        private void AddMeasure(ScoreMeasure measure, string number, bool isUncounted, Action<List<MeasureMark>> more)
        {
            var marks = new List<MeasureMark>();
            if (!measure.Key.Equals(_key))
            {
                // Transposing parts have key signatures of their own; the percussion has none.
                foreach (var group in _scorers.Where(scorer => !scorer.IsUnpitched).GroupBy(scorer => scorer.FifthsIn(measure.Key)))
                {
                    var key = new WrittenKey(group.Key, measure.Key.Mode.ToString().ToLowerInvariant());
                    marks.Add(new KeyMark(Span.Zero, key) { Where = [.. group.Select(scorer => new PrintPlace(scorer.Id))] });
                }

                _key = measure.Key;
            }

            if (!measure.Meter.Equals(_meter))
            {
                marks.Add(new MeterMark(Span.Zero, Shown(measure.Meter)) { Where = _everywhere });
                _meter = measure.Meter;
            }

            more(marks);
            _measures.Add(measure);
            _grid.Add(new Measure(number)
            {
                IsUncounted = isUncounted,
                IsRinging = measure.IsEnding,
                ActualLength = measure.Length == measure.Meter.Length ? null : measure.Length,
                Marks = [.. marks],
            });
        }

        // The sum of the groups, unless the plain number means the same.
        private static WrittenMeter Shown(BarMeter meter)
        {
            var isPlain = meter.Grouping.IsUndivided || meter.Grouping.Equals(Grouping.Usual(meter.Signature));
            var groups = meter.Grouping.Groups;
            return new WrittenMeter(new MeterPair(isPlain ? [meter.Signature.Numerator] : [.. groups], meter.Signature.Denominator)) { Grouping = meter.Grouping };
        }

        private void AddChords(Bar bar, List<MeasureMark> marks)
        {
            foreach (var chord in bar.Chords)
            {
                if (!chord.Symbol.Equals(_chord) || bar.IndexInSection == 0)
                {
                    if (!_chords.TryGetValue(chord.Symbol, out var written))
                    {
                        _chords.Add(chord.Symbol, written = [WrittenChords.Of(chord.Symbol)]);
                    }

                    if (!(chord.Onset > Span.Zero && chord.Symbol.Equals(_chord)))
                    {
                        marks.Add(new ChordMark(chord.Onset, written) { Where = _top });
                    }
                }

                _chord = chord.Symbol;
            }
        }

        private void CloseBarlines()
        {
            if (_grid.Count == 0)
            {
                return;
            }

            var last = _grid[^1];
            _grid[^1] = last with
            {
                Marks =
                [
                    .. last.Marks.Where(mark => mark is not BarlineMark),
                    new BarlineMark(_measures[^1].Length, BarlineSide.Right, "light-heavy") { Where = _everywhere },
                ],
            };
        }
    }
}
