using System.Globalization;
using System.Text.RegularExpressions;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.FromScore;

/// <summary>Puts a score into playing order, bar by bar, with everything that a chart takes over.</summary>
internal sealed partial class PlayedScoreReader
{
    // A score that changes its tempo more often than this breathes; its changes are no sections.
    private const int FewestBarsForATempo = 8;
    private const int MostTimes = 20;
    private const int FewestStepsOfARamp = 3;

    // Verses of a stretch between borders; songs have a dozen.
    private const int MostVerses = 100;

    // Numerators and denominators of lengths; a chart writes up to a million, and what a pickup cuts has larger ones.
    private const int LargestNumber = 200_000;
    private const long TempoDecimals = 1_000;
    private static readonly Rational FineGrid = new(1, 3840);

    // What a chart can write of a tuplet.
    private const int DeepestTuplet = 3;
    private const int LargestInTuplet = 64;

    private readonly WrittenMusic _music;
    private readonly IReadOnlyList<ScoreLine> _lines;
    private readonly ChartMakerOptions _options;
    private readonly MeterFinder _meters;
    private readonly KeyFinder _keys;
    private readonly LossList _losses;
    private readonly IReadOnlyList<PlayedMeasure> _order;
    private readonly bool _isOfBand;
    private readonly PartTransposition[] _transpositions;
    private readonly (BorderKind Kind, string? Name)?[] _borders;
    private readonly bool[] _inEnding;
    private readonly int[] _block;
    private readonly int[] _plays;
    private readonly List<List<string>>[] _verses;
    private readonly Dictionary<int, List<(Span At, TempoMark Mark)>> _tempi = [];
    private readonly Dictionary<int, PlayedRamp> _ramps = [];
    private readonly int _times;

    public PlayedScoreReader(
        WrittenMusic music, IReadOnlyList<ScoreLine> lines, ChartMakerOptions options, MeterFinder meters, KeyFinder keys, LossList losses)
    {
        (_music, _lines, _options, _meters, _keys, _losses) = (music, lines, options, meters, keys, losses);
        _transpositions = [.. lines.Select(line => new PartTransposition(music.Parts[line.Part]))];
        _isOfBand = music.Parts.Any(part => part.Role is not null);
        _order = FormOf(Order());
        _borders = new (BorderKind, string?)?[music.Measures.Count + 1];
        _inEnding = new bool[music.Measures.Count];
        ReadTempi();
        ReadBorders();
        NameBorders();
        _block = new int[music.Measures.Count];
        for (var m = 1; m < _block.Length; m++)
        {
            _block[m] = _block[m - 1] + (_borders[m] is null ? 0 : 1);
        }

        _plays = new int[music.Measures.Count];
        foreach (var played in _order)
        {
            _plays[played.Measure]++;
        }

        for (var m = 1; m < _plays.Length; m++)
        {
            // The verses of an ending are counted as those of what it ends.
            _plays[m] = _inEnding[m] ? _plays[m - 1] : _plays[m];
        }

        _verses = [.. lines.Select(Verses)];
        _times = Times();
    }

    /// <summary>The first tempo; null if the score has none.</summary>
    public TempoMark? FirstTempo { get; private set; }

    [GeneratedRegex(
        @"^\W*(verse|chorus|refrain|bridge|intro|introduction|outro|coda|interlude|ending|solo|tag|strophe|pre-?chorus)\b[\s\d.:]*$",
        RegexOptions.CultureInvariant | RegexOptions.IgnoreCase | RegexOptions.ExplicitCapture,
        1000)]
    private static partial Regex SectionWord();

    /// <summary>True for words that name a section.</summary>
    public static bool IsSectionName(string text) => SectionWord().IsMatch(text);

    /// <summary>The score in playing order.</summary>
    /// <exception cref="ChartProblemException">A measure has a length that no bar can have.</exception>
    public PlayedScore Read()
    {
        var bars = new List<PlayedBar>();
        var borders = new List<Border>();
        var lead = Empty();
        var leadLength = Span.Zero;
        var state = new State(FirstTempo ?? DefaultTempo());
        var seen = new Dictionary<int, (ChordSymbol? Chord, ChordMark? Mark, TempoMark Tempo)>();
        for (var i = 0; i < _order.Count; i++)
        {
            var here = _order[i];
            var length = LengthOf(here.Measure);
            if (length <= Span.Zero)
            {
                continue;
            }

            // What holds at a place does not depend on the way that led there.
            if (i > 0 && here.Measure <= _order[i - 1].Measure && seen.TryGetValue(here.Measure, out var then))
            {
                (state.Chord, state.ChordMark, state.Tempo) = then;
            }
            else
            {
                seen.TryAdd(here.Measure, (state.Chord, state.ChordMark, state.Tempo));
            }

            AddBorder(borders, bars.Count, i, null);
            var meter = _meters.At(here.Measure);
            var nominal = meter?.Length;
            if (i == 0 && length < nominal && _order.Count > 1 && length < LengthOf(_order[1].Measure))
            {
                // Rests before the first note are no part of the pickup.
                var first = StepsOf(here, length);
                var silent = first.Select(line => line.Find(step => step.Pitch is not null)?.Onset ?? length).DefaultIfEmpty(length).Min();
                (lead, leadLength) = ([.. first.Select(line => From(line, silent))], length - silent);
                borders[^1] = borders[^1] with { Pickup = leadLength };
                foreach (var mark in _music.Measures[here.Measure].Chords)
                {
                    // It sounds on into the first bar, unless that brings its own.
                    (state.Chord, state.ChordMark) = (SymbolOf(mark, here.Measure) ?? state.Chord, mark);
                }

                continue;
            }

            if (length < nominal && i + 1 < _order.Count && _order[i + 1] is var next && LengthOf(next.Measure) is var rest
                && _meters.At(next.Measure) == meter && length + rest == nominal)
            {
                // A repeat or a jump divides the bar: what follows it is the pickup into the next section.
                var isBack = next.Measure <= here.Measure && seen.ContainsKey(next.Measure);
                seen.TryAdd(next.Measure, After(here.Measure, (state.Chord, state.ChordMark, state.Tempo)));
                var lines = StepsOf(here, length);
                var second = StepsOf(next, rest);
                for (var line = 0; line < lines.Length; line++)
                {
                    lines[line].AddRange(second[line].Select(step => step with { Onset = step.Onset + length }));
                }

                AddBorder(borders, bars.Count + 1, i + 1, rest);
                Add(bars, meter!, [here.Measure, next.Measure], lines, [(here.Measure, Span.Zero, length), (next.Measure, length, rest)], state);
                if (isBack)
                {
                    (state.Chord, state.ChordMark, state.Tempo) = After(next.Measure, seen[next.Measure]);
                }

                i++;
                continue;
            }

            var steps = StepsOf(here, length);
            if (length < nominal && i == _order.Count - 1)
            {
                // The last bar is short because the first was; the band plays it out.
                foreach (var line in steps)
                {
                    line.Add(new Step(length, nominal.Value - length, null) { Measure = here.Measure });
                }

                Add(bars, meter!, [here.Measure], steps, [(here.Measure, Span.Zero, length)], state);
                continue;
            }

            AddLong(bars, meter, here.Measure, length, steps, state);
        }

        borders.RemoveAll(border => border.Bar >= bars.Count);
        var all = lead.Length > 0 && leadLength > Span.Zero ? lead : Empty();
        JoinTies(all, bars);
        if (_times > 1 && bars.Count > 0 && bars[^1].Lines.Any(line => line.FindLast(step => step.Pitch is not null)?.End > bars[^1].Length - leadLength))
        {
            _losses.Add("end of the last note, each time through but the last", "the pickup of the next time cuts it", null, null);
        }

        return new PlayedScore(bars, all, leadLength, borders, _times);
    }

    // What holds after a measure.
    private (ChordSymbol? Chord, ChordMark? Mark, TempoMark Tempo) After(int measure, (ChordSymbol? Chord, ChordMark? Mark, TempoMark Tempo) before)
    {
        foreach (var mark in _music.Measures[measure].Chords)
        {
            before = SymbolOf(mark, measure) is { } symbol ? before with { Chord = symbol, Mark = mark } : before;
        }

        return _tempi.TryGetValue(measure, out var marks) ? before with { Tempo = marks[^1].Mark } : before;
    }

    private List<Step>[] Empty() => [.. _lines.Select(_ => new List<Step>())];

    private TempoMark DefaultTempo() => new(TempoLevel.Note, Span.Of(1, 4), _options.Quarters);

    private IReadOnlyList<PlayedMeasure> Order()
    {
        try
        {
            return Unfolding.Order(_music.Measures, FormPlan.MostBars);
        }
        catch (UnfoldException fault)
        {
            _losses.Add($"repeats and jumps that cannot be followed ({fault.Message.TrimEnd('.')})", "every measure is played once", _music.Measures[fault.Measure], null);
            return SoundingNotes.AsWritten(_music);
        }
    }

    private Span LengthOf(int measure)
    {
        var length = _music.LengthOf(measure)
            ?? _music.Parts.SelectMany(part => part.Measures[measure].Voices).Select(voice => voice.Length).DefaultIfEmpty(Span.Zero).Max();
        return IsTooFine(length) ? Near(length) : length;
    }

    private static Span Near(Span place) => new(FineGrid * (place.Wholes / FineGrid).Round());

    // A bar in its own meter, or several if it is too long for one.
    private void AddLong(List<PlayedBar> bars, BarMeter? meter, int measure, Span length, List<Step>[] steps, State state)
    {
        if (meter is not null && meter.Length == length)
        {
            Add(bars, meter, [measure], steps, [(measure, Span.Zero, length)], state);
            return;
        }

        if (MeterFinder.Fitting(length, meter) is { } own)
        {
            Add(bars, own, [measure], steps, [(measure, Span.Zero, length)], state);
            return;
        }

        _losses.Add("measure too long for one bar", "it is divided into bars of a whole note", _music.Measures[measure], null, _music.Measures[measure]);
        var at = Span.Zero;
        while (at < length)
        {
            var bar = Span.Min(Span.Of(1, 1), length - at);
            if (MeterFinder.Fitting(bar, meter) is not { } piece)
            {
                throw new ChartProblemException(
                    $"measure {_music.Measures[measure].Number} lasts {length} of a whole note, and no meter of a chart has that length; a bar has 1 to {TimeSignature.LargestNumerator} units, the smallest a 64th",
                    _music.Measures[measure].Origin);
            }

            Add(bars, piece, [measure], [.. steps.Select(line => Piece(line, at, at + bar))], [(measure, -at, length)], state);
            at += bar;
        }
    }

    private void Add(
        List<PlayedBar> bars, BarMeter meter, IReadOnlyList<int> measures, List<Step>[] lines, IReadOnlyList<(int Measure, Span At, Span Length)> pieces, State state)
    {
        var tempo = state.Tempo;
        foreach (var (measure, at, _) in pieces)
        {
            foreach (var (place, mark) in _tempi.GetValueOrDefault(measure) ?? [])
            {
                var here = at + place;
                if (here >= Span.Zero && here < meter.Length)
                {
                    state.Tempo = mark;
                    tempo = here <= Span.Zero ? mark : tempo;
                }
            }
        }

        var (chords, marks) = Chords(meter, pieces, state);
        bars.Add(new PlayedBar
        {
            Meter = meter,
            Measures = measures,
            Origin = _music.Measures[measures[0]].Origin,
            Lines = lines,
            Chords = chords,
            ChordMarks = marks,
            Tempo = tempo,
            Ramp = _ramps.GetValueOrDefault(measures[0]),
            Key = _keys.At(measures[0]),
        });
    }

    private (List<ChordSpan> Chords, List<ChordMark?> Marks) Chords(BarMeter meter, IReadOnlyList<(int Measure, Span At, Span Length)> pieces, State state)
    {
        var found = new SortedDictionary<Span, (ChordSymbol Symbol, ChordMark? Mark)>
        {
            [Span.Zero] = (state.Chord ?? ChordSymbol.NoChord, state.ChordMark),
        };
        foreach (var (measure, at, _) in pieces)
        {
            foreach (var mark in _music.Measures[measure].Chords)
            {
                var place = at + Span.Max(mark.At, Span.Zero);
                if (place < Span.Zero || place >= meter.Length || SymbolOf(mark, measure) is not { } symbol)
                {
                    continue;
                }

                var units = place / meter.Unit;
                if (!units.IsInteger)
                {
                    _losses.Add("chord between two units", "it stands at the nearest unit", _music.Measures[measure], mark.Origin, mark);
                    place = meter.Unit * Math.Min(units.Round(), meter.Units - 1);
                }

                found[place] = (symbol, mark);
                (state.Chord, state.ChordMark) = (symbol, mark);
            }
        }

        var chords = new List<ChordSpan>();
        var marks = new List<ChordMark?>();
        foreach (var (place, (symbol, mark)) in found)
        {
            if (chords.Count > 0)
            {
                if (chords[^1].Symbol.Equals(symbol))
                {
                    continue;
                }

                chords[^1] = chords[^1] with { Length = place - chords[^1].Onset };
            }

            chords.Add(new ChordSpan(place, meter.Length - place, symbol));
            marks.Add(mark is { Provenance: Provenance.Inferred } ? mark : null);
        }

        return (chords, marks);
    }

    private ChordSymbol? SymbolOf(ChordMark mark, int measure)
    {
        if (mark.Type == "alternate")
        {
            _losses.Add("alternative chord", "the first one is kept", _music.Measures[measure], mark.Origin, mark);
            return null;
        }

        var (symbol, isReduced) = ChordReading.Read(mark.Chords[0]);
        if (symbol is null)
        {
            _losses.Add($"chord that no symbol names: {mark.Chords[0].Text ?? mark.Chords[0].Function ?? mark.Chords[0].Kind}", "the chord before continues", _music.Measures[measure], mark.Origin, mark);
        }
        else if (isReduced)
        {
            _losses.Add($"chord {mark.Chords[0].Text ?? mark.Chords[0].KindText ?? mark.Chords[0].Kind}", $"written as {symbol.Text}", _music.Measures[measure], mark.Origin, mark);
        }

        if (mark.Chords.Count > 1)
        {
            _losses.Add("stacked chord symbol", "the first one is kept", _music.Measures[measure], mark.Origin, mark);
        }

        return symbol;
    }

    private void AddBorder(List<Border> borders, int bar, int index, Span? pickup)
    {
        var measure = _order[index].Measure;
        var before = index > 0 ? _order[index - 1].Measure : -1;
        var written = _borders[measure];
        var kind = index == 0 ? BorderKind.Strong : (BorderKind?)null;
        if (index > 0 && measure != before + 1 && !LeadsOverEndings(before, measure))
        {
            kind = BorderKind.Strong;
        }
        else if (index > 0 && written is not null && (measure == before + 1))
        {
            kind = written.Value.Kind;
        }

        if (kind is null)
        {
            return;
        }

        if (borders.Count > 0 && borders[^1].Bar == bar)
        {
            borders.RemoveAt(borders.Count - 1);
        }

        borders.Add(new Border(bar, kind.Value) { Pickup = pickup, Name = written?.Name });
    }

    private bool LeadsOverEndings(int from, int to) => to > from + 1 && _inEnding.AsSpan((from + 1)..to).IndexOf(false) < 0;

    private void SetBorder(int measure, BorderKind kind, string? name = null)
    {
        if (measure >= 0 && measure < _borders.Length && (_borders[measure] is not { } now || now.Kind < kind || (now.Name is null && name is not null)))
        {
            _borders[measure] = (_borders[measure] is { } old && old.Kind > kind ? old.Kind : kind, name ?? _borders[measure]?.Name);
        }
    }

    // In the score of a band every section is named: what begins inside one, as at a new tempo, is still that section.
    private void NameBorders()
    {
        string? name = null;
        for (var m = 0; _isOfBand && m < _borders.Length; m++)
        {
            name = _borders[m]?.Name ?? name;
            if (_borders[m] is { } border)
            {
                _borders[m] = (border.Kind, name);
            }
        }
    }

    // A chart's band lets its last notes ring by itself.
    private IReadOnlyList<PlayedMeasure> FormOf(IReadOnlyList<PlayedMeasure> order)
    {
        var count = order.Count;
        while (count > 1 && _music.Measures[order[count - 1].Measure].IsRinging)
        {
            count--;
        }

        return count == order.Count ? order : [.. order.Take(count)];
    }

    // The score of a band has the section's name beside its letter; in other scores only words that name sections are names.
    private string NameAt(Measure measure, RehearsalMark rehearsal) =>
        measure.Marks.OfType<WordsMark>().FirstOrDefault(words => words.At == rehearsal.At && (_isOfBand || IsSectionName(words.Text)))?.Text ?? rehearsal.Text;

    private void ReadBorders()
    {
        var open = -1;
        for (var m = 0; m < _music.Measures.Count; m++)
        {
            var measure = _music.Measures[m];
            var length = LengthOf(m);
            foreach (var mark in measure.Marks)
            {
                var here = mark.At > Span.Zero && mark.At + mark.At >= length ? m + 1 : m;
                switch (mark)
                {
                    case RehearsalMark rehearsal:
                        SetBorder(here, BorderKind.Strong, NameAt(measure, rehearsal));
                        break;
                    case WordsMark words when IsSectionName(words.Text):
                        SetBorder(here, BorderKind.Strong, words.Text);
                        break;
                    case RepeatMark { IsForward: true } or JumpMark { Kind: JumpKind.ForwardRepeat }:
                        SetBorder(m, BorderKind.Strong);
                        break;
                    case RepeatMark:
                        SetBorder(m + 1, BorderKind.Strong);
                        break;
                    case BarlineMark { Style: "light-light" or "heavy" or "heavy-light" or "light-heavy" or "heavy-heavy" } line:
                        SetBorder(line.Side == BarlineSide.Left ? m : m + 1, BorderKind.Sign);
                        break;
                    case JumpMark { Kind: JumpKind.Segno or JumpKind.Coda } sign:
                        SetBorder(sign.At > Span.Zero && sign.At >= length ? m + 1 : m, sign.Kind == JumpKind.Coda ? BorderKind.Strong : BorderKind.Sign, sign.Kind == JumpKind.Coda ? "coda" : null);
                        break;
                    case JumpMark { Sounds: true } jump:
                        SetBorder(m + 1, jump.Kind == JumpKind.ToCoda ? BorderKind.Sign : BorderKind.Strong);
                        break;
                    case KeyMark when m > 0 && _keys.At(m) != _keys.At(m - 1):
                        SetBorder(m, BorderKind.Strong);
                        break;
                    case EndingMark { Edge: EndingEdge.Start, Numbers.Count: > 0 }:
                        open = m;
                        break;
                }
            }

            foreach (var words in _music.Parts.SelectMany(part => part.Measures[m].Marks).Where(mark => mark.Mark is { Kind: MarkKind.Words, Text: { } text } && IsSectionName(text)))
            {
                SetBorder(words.At + words.At >= length && words.At > Span.Zero ? m + 1 : m, BorderKind.Strong, words.Mark.Text);
            }

            if (open >= 0)
            {
                _inEnding[m] = true;
            }

            if (measure.Marks.Any(mark => mark is EndingMark { Edge: not EndingEdge.Start, Numbers.Count: > 0 }))
            {
                SetBorder(m + 1, BorderKind.Strong);
                open = -1;
            }
        }

        // A first ending without a bracket over the second: the second is as long as the first.
        for (var i = 1; i < _order.Count; i++)
        {
            var (before, now) = (_order[i - 1].Measure, _order[i].Measure);
            if (LeadsOverEndings(before, now) && !_inEnding[now])
            {
                SetBorder(now + (now - before - 1), BorderKind.Strong);
            }
        }

        foreach (var m in _tempi.Keys.Where(m => m > 0))
        {
            SetBorder(_tempi[m][0].At > Span.Zero ? m + 1 : m, BorderKind.Strong);
        }
    }

    private void ReadTempi()
    {
        var changes = new List<(int Measure, Span At, TempoMark Mark, TempoSign Sign)>();
        for (var m = 0; m < _music.Measures.Count; m++)
        {
            foreach (var sign in _music.Measures[m].Marks.OfType<TempoSign>())
            {
                if (MarkOf(sign, m) is { } mark)
                {
                    changes.Add((m, Span.Max(sign.At, Span.Zero), mark, sign));
                }
            }
        }

        if (changes.Count == 0)
        {
            return;
        }

        FirstTempo = changes[0].Mark;
        var now = FirstTempo;
        var real = new List<(int Measure, Span At, TempoMark Mark, TempoSign Sign)>();
        foreach (var change in changes.Where(change => change.Mark != now))
        {
            real.Add(change);
            now = change.Mark;
        }

        TakeRamps(real);
        if (real.Count * FewestBarsForATempo > _music.Measures.Count && real.Count > 2)
        {
            foreach (var change in real)
            {
                _losses.Add("change of tempo", "the first tempo is kept, because they come too often for sections", _music.Measures[change.Measure], change.Sign.Origin, change.Sign);
            }

            return;
        }

        foreach (var change in real)
        {
            if (change.At > Span.Zero)
            {
                _losses.Add("change of tempo inside a measure", "it comes at the next bar line", _music.Measures[change.Measure], change.Sign.Origin, change.Sign);
            }

            _tempi.TryAdd(change.Measure, []);
            _tempi[change.Measure].Add((change.At, change.Mark));
        }
    }

    // Tempi that rise or fall steadily, at least one a measure, are a ritardando or an accelerando: they are taken out of the changes.
    private void TakeRamps(List<(int Measure, Span At, TempoMark Mark, TempoSign Sign)> changes)
    {
        for (var i = 0; i < changes.Count;)
        {
            var before = i == 0 ? FirstTempo!.Value : changes[i - 1].Mark;
            var direction = Speed(changes[i].Mark).CompareTo(Speed(before));
            var end = i + 1;
            while (end < changes.Count && changes[end].Measure - changes[end - 1].Measure <= 1
                && Speed(changes[end].Mark).CompareTo(Speed(changes[end - 1].Mark)) == direction)
            {
                end++;
            }

            if (end - i < FewestStepsOfARamp || direction == 0)
            {
                i++;
                continue;
            }

            var to = changes[end - 1];
            var first = changes[i].Measure;
            // A last step on a bar line ends the ramp there.
            var last = to.At == Span.Zero && to.Measure > first ? to.Measure - 1 : to.Measure;
            var isBack = end < changes.Count && changes[end].Measure <= last + 1 && Speed(changes[end].Mark) == Speed(before);
            var ramp = new PlayedRamp(first, last, to.Mark, isBack);
            for (var m = first; m <= last; m++)
            {
                _ramps.TryAdd(m, ramp);
            }

            var off = LargestError(changes.GetRange(i, end - i), before, ramp);
            _losses.Add("gradual change of tempo", string.Create(CultureInfo.InvariantCulture, $"it is steady in the chart, at most {Math.Ceiling(off * 100):0} % off"), _music.Measures[first], changes[i].Sign.Origin, ramp);
            changes.RemoveRange(i, end - i + (isBack ? 1 : 0));
            if (isBack || last + 1 >= _music.Measures.Count)
            {
                continue;
            }

            // The tempo that was reached stays until another one comes.
            if (i >= changes.Count || changes[i].Measure != last + 1 || changes[i].At != Span.Zero)
            {
                changes.Insert(i, (last + 1, Span.Zero, to.Mark, to.Sign));
            }

            i++;
        }
    }

    private static Rational Speed(TempoMark mark) => mark.Note.Wholes * mark.PerMinute;

    // How far the steps are from a steady change, as a share of the tempo.
    private double LargestError(List<(int Measure, Span At, TempoMark Mark, TempoSign Sign)> steps, TempoMark before, PlayedRamp ramp)
    {
        double PlaceOf(int measure, Span at)
        {
            var place = at;
            for (var m = ramp.First; m < measure; m++)
            {
                place += _music.LengthOf(m) ?? Span.Zero;
            }

            return place.Wholes.ToDouble();
        }

        var length = Math.Max(1e-9, PlaceOf(ramp.Last + 1, Span.Zero));
        var (from, to) = (Speed(before).ToDouble(), Speed(ramp.To).ToDouble());
        var most = 0.0;
        for (var i = 0; i < steps.Count; i++)
        {
            var start = PlaceOf(steps[i].Measure, steps[i].At);
            var end = i + 1 < steps.Count ? PlaceOf(steps[i + 1].Measure, steps[i + 1].At) : length;
            var steady = from + ((to - from) * Math.Min(1, (start + end) / 2 / length));
            most = Math.Max(most, Math.Abs((steady / Speed(steps[i].Mark).ToDouble()) - 1));
        }

        return most;
    }

    private TempoMark? MarkOf(TempoSign sign, int measure)
    {
        if (sign.Tempo is not { } tempo)
        {
            return null;
        }

        if (!TempoMark.IsAccepted(tempo.WholesPerMinute))
        {
            _losses.Add("tempo out of range", "the one before is kept", _music.Measures[measure], sign.Origin, sign);
            return null;
        }

        // The felt unit of the metronome mark is kept, unless another one gives a number without endless decimals.
        var beat = sign.Metronomes.FirstOrDefault(metronome => metronome.Tempo is not null)?.Beat?.Length
            ?? (_meters.At(measure) is { Signature.Denominator: 8, Grouping.Groups: { Count: > 1 } groups } && groups.All(size => size == 3) ? Span.Of(3, 8) : Span.Of(1, 4));
        Span[] beats = [beat, _meters.At(measure)?.Unit ?? Span.Of(1, 4), Span.Of(1, 4)];
        var exact = Array.Find(beats, one => (tempo.PerMinute(one) * TempoDecimals).IsInteger);
        return new TempoMark(TempoLevel.Note, exact > Span.Zero ? exact : beat, tempo.PerMinute(exact > Span.Zero ? exact : beat)).Writable();
    }

    // The verses of a line in each block of measures between borders.
    private List<List<string>> Verses(ScoreLine line)
    {
        var part = _music.Parts[line.Part];
        var verses = new List<List<string>>();
        for (var m = 0; m < _block.Length; m++)
        {
            while (verses.Count <= _block[m])
            {
                verses.Add([]);
            }

            foreach (var lyric in part.Measures[m].Voices.Where(voice => voice.Name == line.Voice).SelectMany(voice => voice.Events).SelectMany(one => one.Lyrics))
            {
                var number = lyric.Number ?? "1";
                if (lyric.Parts.Count == 0 || verses[_block[m]].Contains(number))
                {
                    continue;
                }

                if (verses[_block[m]].Count == MostVerses)
                {
                    _losses.Add($"verses beyond {MostVerses}", string.Empty, _music.Measures[m], null, _music.Measures[m]);
                }
                else
                {
                    verses[_block[m]].Add(number);
                }
            }
        }

        foreach (var block in verses)
        {
            block.Sort((a, b) => Number(a) != Number(b) ? Number(a).CompareTo(Number(b)) : string.CompareOrdinal(a, b));
        }

        return verses;

        static int Number(string text) => int.TryParse(text, NumberStyles.None, CultureInfo.InvariantCulture, out var number) ? number : int.MaxValue;
    }

    private int Times()
    {
        var times = 1;
        for (var m = 0; m < _block.Length; m++)
        {
            if (_plays[m] > 0)
            {
                var most = _verses.Select(line => line[_block[m]].Count).DefaultIfEmpty(0).Max();
                times = Math.Max(times, (most + _plays[m] - 1) / _plays[m]);
            }
        }

        return Math.Min(times, MostTimes);
    }

    /// <summary>The words of a note in a playing.</summary>
    private Lyric?[] Sung(VoiceEvent one, int line, PlayedMeasure played)
    {
        var verses = _verses[line][_block[played.Measure]];
        var sung = new Lyric?[_times];
        for (var lap = 0; lap < _times && verses.Count > 0; lap++)
        {
            var number = (lap * _plays[played.Measure]) + played.Verse;
            var name = number.ToString(CultureInfo.InvariantCulture);
            var wanted = verses.Contains(name) ? name : verses[(number - 1) % verses.Count];
            sung[lap] = one.Lyrics.FirstOrDefault(lyric => (lyric.Number ?? "1") == wanted && (lyric.Passes.Count == 0 || lyric.Passes.Contains(played.Pass)));
        }

        return sung;
    }

    private List<Step>[] StepsOf(PlayedMeasure played, Span length) => [.. _lines.Select((_, line) => StepsOf(line, played, length))];

    private List<Step> StepsOf(int line, PlayedMeasure played, Span length)
    {
        var (m, steps) = (played.Measure, new List<Step>());
        var part = _music.Parts[_lines[line].Part];
        var measure = _music.Measures[m];
        var voices = part.Measures[m].Voices;
        ValueList<Tuplet> Tuplets(VoiceEvent one)
        {
            if (one.Tuplets.Count <= DeepestTuplet && one.Tuplets.All(tuplet => Math.Max(tuplet.Actual, tuplet.Normal) <= LargestInTuplet))
            {
                return one.Tuplets;
            }

            _losses.Add("tuplet that a chart does not have", "its notes have their lengths as fractions", measure, one.Origin, one);
            return [];
        }

        var voice = voices.FirstOrDefault(one => one.Name == _lines[line].Voice)
            ?? (line == 0 && voices.Count == 1 && !_lines.Skip(1).Any(other => other.Part == _lines[0].Part && other.Voice == voices[0].Name) ? voices[0] : null);
        var at = Span.Zero;
        var graces = new List<Pitch>();
        foreach (var one in voice?.Events ?? [])
        {
            if (at >= length && one.Length > Span.Zero)
            {
                _losses.Add("notes beyond the end of their measure", string.Empty, measure, one.Origin, one);
                break;
            }

            var up = _transpositions[line].At(m, at) ?? Interval.Unison;
            if (one is NotesEvent { Grace: { } grace } ornament)
            {
                if (grace.IsAfter || ornament.IsCue)
                {
                    _losses.Add(grace.IsAfter ? "grace note after its note" : "cue note", string.Empty, measure, one.Origin, one);
                }
                else if (Top(ornament, played, measure) is { } head)
                {
                    graces.Add(Sounding(head, up, measure));
                }

                continue;
            }

            var end = Span.Min(at + one.Length, length);
            if (one is NotesEvent { IsCue: false } notes && Top(notes, played, measure) is { } top)
            {
                steps.Add(new Step(at, end - at, Sounding(top, up, measure))
                {
                    TiedFrom = graces.Count == 0 && IsTied(top.TiedFrom, played),
                    TiedTo = IsTied(top.TiedTo, played),
                    Graces = [.. graces],
                    Marks = [.. notes.Marks.Select(mark => Kept(mark, measure, one)).OfType<Mark>()],
                    Late = notes.Late,
                    Tuplets = Tuplets(one),
                    Lyrics = _verses[line].Count == 0 || one.Lyrics.Count == 0 ? [] : Sung(one, line, played),
                    Measure = m,
                });
                graces.Clear();
            }
            else if (end > at)
            {
                if (one is NotesEvent { IsCue: true })
                {
                    _losses.Add("cue note", "a rest", measure, one.Origin, one);
                }

                steps.Add(new Step(at, end - at, null)
                {
                    Marks = [.. one.Marks.Where(mark => one is not NotesEvent && mark.Kind == MarkKind.Fermata).Select(mark => Kept(mark, measure, one)).OfType<Mark>()],
                    Tuplets = Tuplets(one),
                    Measure = m,
                });
            }

            at = end;
        }

        if (at < length)
        {
            if (voice is not null)
            {
                _losses.Add("measure that the tune does not fill", "a rest is added", measure, null, measure);
            }

            steps.Add(new Step(at, length - at, null) { Measure = m });
        }

        if (steps.Exists(step => IsTooFine(step.Onset) || IsTooFine(step.Length) || IsTooFine(step.Late) || IsTooFine(step.Length / step.Tuplets.Aggregate(Rational.One, (product, tuplet) => product * tuplet.Ratio))))
        {
            _losses.Add("places finer than a chart can write", $"the nearest {FineGrid.Denominator}th of a whole note", measure, null, measure);
            steps = OnGrid(steps);
        }

        AddPlaced(part, m, _lines[line].Voice, steps, measure);
        return steps;
    }

    private static bool IsTooFine(Span span) => span.Wholes.Numerator > LargestNumber || span.Wholes.Denominator > LargestNumber;

    // Every note at the nearest place of a plain grid; of those at one place the last. The end stays.
    private static List<Step> OnGrid(List<Step> steps)
    {
        var placed = new List<Step>();
        var end = steps[^1].End;
        for (var i = 0; i < steps.Count; i++)
        {
            var (onset, stop) = (Near(steps[i].Onset), i == steps.Count - 1 ? end : Near(steps[i].End));
            if (stop > onset)
            {
                placed.Add(steps[i] with { Onset = onset, Length = stop - onset, Tuplets = [], Late = Span.Zero });
            }
        }

        return placed;
    }

    // Levels and hairpins go to the note at their place.
    private void AddPlaced(WrittenPart part, int m, string voice, List<Step> steps, Measure measure)
    {
        foreach (var placed in part.Measures[m].Marks.Where(mark => mark.Mark.Kind is MarkKind.Dynamics or MarkKind.Wedge && (mark.Voice is null || mark.Voice == voice)))
        {
            var index = steps.FindLastIndex(step => step.Onset <= Span.Max(placed.At, Span.Zero));
            if (index >= 0 && Kept(placed.Mark, measure, placed) is { } mark)
            {
                if (steps[index].Onset != placed.At && placed.Mark.Edge != MarkEdge.Stop)
                {
                    _losses.Add("dynamic between two notes", "it stands at the note before", measure, null, placed);
                }

                steps[index] = steps[index] with { Marks = [mark, .. steps[index].Marks] };
            }
        }
    }

    private Mark? Kept(Mark mark, Measure measure, object key)
    {
        var plain = new Mark(mark.Kind)
        {
            Edge = mark.Edge,
            Text = mark.Kind is MarkKind.Dynamics or MarkKind.Fingering or MarkKind.Wedge ? mark.Text : null,
        };

        // The end of a hairpin does not say which kind it ends.
        if (plain is { Kind: MarkKind.Wedge, Edge: MarkEdge.Stop } || _options.KeepsMark(plain))
        {
            return plain;
        }

        if (mark.Edge is MarkEdge.Single or MarkEdge.Start)
        {
            _losses.Add(LossScan.NameOf(mark), string.Empty, measure, null, key);
        }

        return null;
    }

    private static bool IsTied(TieEnd? end, PlayedMeasure played) => end is { Sounds: true } && (end.Passes.Count == 0 || end.Passes.Contains(played.Pass));

    private WrittenNote? Top(NotesEvent notes, PlayedMeasure played, Measure measure)
    {
        var heads = notes.Notes.Where(head => head.Passes.Count == 0 || head.Passes.Contains(played.Pass)).ToList();
        var top = heads.Where(head => head.Pitch is not null).MaxBy(head => head.Pitch!.Value.Sound);
        if (top is null && heads.Count > 0)
        {
            _losses.Add("note without pitch", "a rest", measure, notes.Origin, notes);
        }
        else if (heads.Count > 1)
        {
            _losses.Add("chord in the tune", "its top note is kept", measure, notes.Origin, notes);
        }

        return top;
    }

    private Pitch Sounding(WrittenNote head, Interval up, Measure measure)
    {
        var pitch = up == Interval.Unison ? head.Pitch!.Value : head.Pitch!.Value.Transpose(up);
        if (pitch.Plain is null)
        {
            _losses.Add("microtone", "the nearest half step", measure, head.Origin, head);
        }

        // A chart has at most two sharps or flats on a note.
        var near = pitch.Nearest;
        return Math.Abs(near.Name.Accidental) <= 2 ? near : Pitch.AtMidi(near.Name.Simplified(), near.Midi);
    }

    private static List<Step> From(List<Step> steps, Span from) =>
        [.. Piece(steps, from, steps.Count == 0 ? from : steps[^1].End)];

    private static List<Step> Piece(List<Step> steps, Span from, Span to) =>
    [
        .. steps.Where(step => step.End > from && step.Onset < to).Select(step => step with
        {
            Onset = Span.Max(step.Onset, from) - from,
            Length = Span.Min(step.End, to) - Span.Max(step.Onset, from),
            TiedFrom = step.Onset < from ? step.Pitch is not null : step.TiedFrom,
            TiedTo = step.End > to ? step.Pitch is not null : step.TiedTo,
            Graces = step.Onset < from ? [] : step.Graces,
            Marks = step.Onset < from ? [] : step.Marks,
            Lyrics = step.Onset < from ? [] : step.Lyrics,
        }),
    ];

    // A tie joins two adjacent notes of one sound; any other only rings.
    private void JoinTies(List<Step>[] lead, List<PlayedBar> bars)
    {
        for (var line = 0; line < _lines.Count; line++)
        {
            var before = (List: lead[line], Index: -1);
            for (var b = -1; b < bars.Count; b++)
            {
                var steps = b < 0 ? lead[line] : bars[b].Lines[line];
                for (var i = 0; i < steps.Count; i++)
                {
                    var last = before.Index >= 0 ? before.List[before.Index] : null;
                    var joins = last is { TiedTo: true, Pitch: not null } && steps[i] is { TiedFrom: true, Pitch: not null }
                        && last.Pitch.Value.Midi == steps[i].Pitch!.Value.Midi;
                    if (last is { TiedTo: true } && !joins)
                    {
                        _losses.Add("tie that leads to no note of its pitch", string.Empty, _music.Measures[last.Measure], null, null);
                        before.List[before.Index] = last with { TiedTo = false };
                    }

                    if (joins && steps[i].Lyrics.Any(lyric => lyric is { Parts.Count: > 0 }))
                    {
                        _losses.Add("syllable on a note that only continues a tie", string.Empty, _music.Measures[steps[i].Measure], null);
                    }

                    steps[i] = steps[i] with { TiedFrom = joins, Pitch = joins ? last!.Pitch : steps[i].Pitch };
                    before = (steps, i);
                }
            }

            if (before.Index >= 0 && before.List[before.Index].TiedTo)
            {
                before.List[before.Index] = before.List[before.Index] with { TiedTo = false };
            }
        }
    }

    private sealed class State(TempoMark tempo)
    {
        public ChordSymbol? Chord { get; set; }

        public ChordMark? ChordMark { get; set; }

        public TempoMark Tempo { get; set; } = tempo;
    }
}
