using GrooveLab.Music.Charts;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Recast;

/// <summary>The tempi of a song in its new meter.</summary>
internal sealed class RecastTempi
{
    private const int Minute = 60;

    private readonly Chart _source;
    private readonly RecastOptions _options;
    private readonly BarMeter[] _usual;
    private readonly Rational[] _wholes;
    private readonly Rational[] _factors;
    private readonly bool _isStated;

    public RecastTempi(Chart source, RecastOptions options)
    {
        _source = source;
        _options = options;
        var count = source.Sections.Count;
        var whole = MostCommon(source.Sections.Where(section => !options.Sections.ContainsKey(section.Name)));
        _usual = [.. source.Sections.Select(section => options.Sections.ContainsKey(section.Name) ? MostCommon([section])! : whole!)];
        var plan = new FormPlan(source);
        var begins = plan.BarAt(0).SteadyTempo.WholesPerMinute;
        _wholes = [.. Enumerable.Repeat(begins, count)];
        foreach (var run in plan.Runs.Reverse())
        {
            _wholes[run.SectionIndex] = plan.BarAt(run.FirstBar).SteadyTempo.WholesPerMinute;
        }

        _factors = [.. Enumerable.Range(0, count).Select(section => Factor(TreatmentOf(section), _usual[section]))];
        if (options.Start is { } start)
        {
            var first = source.Form[0].Section;
            var said = start.At(TreatmentOf(first).To, TreatmentOf(first).To.Length).WholesPerMinute;
            var pace = said / (begins * _factors[first]);
            _factors = [.. _factors.Select(factor => factor * pace)];
        }

        IsMixed = Enumerable.Range(1, count - 1).Any(section => TreatmentOf(section) != TreatmentOf(0));
        _isStated = _factors.Distinct().Count() > 1 || source.Sections.Any(section => section.Join is not null);
    }

    /// <summary>True if sections are treated differently.</summary>
    public bool IsMixed { get; }

    /// <summary>The tempo of each section.</summary>
    public IReadOnlyList<RecastSeam> Seams => [.. _wholes.Select((wholes, i) => new RecastSeam(i, wholes, wholes * _factors[i]))];

    /// <summary>The meter of most bars of a section, or of all sections that are treated alike.</summary>
    public BarMeter UsualMeter(int section) => _usual[section];

    /// <summary>The seconds in a whole note of a section, in the source and in the result.</summary>
    public (double Before, double After) SecondsInWhole(int section) =>
        (Minute / _wholes[section].ToDouble(), Minute / (_wholes[section] * _factors[section]).ToDouble());

    /// <summary>The section with its tempi.</summary>
    /// <param name="made">The section in its new meter.</param>
    /// <param name="was">The section as it was.</param>
    /// <param name="index">Its index.</param>
    public Section Apply(Section made, Section was, int index)
    {
        TempoMark Mark(TempoMark mark) => Converted(mark, was, index);
        TempoAfter? After(TempoAfter? after) => after is { Mark: { } mark } ? new TempoAfter(Mark(mark)) : after;
        var change = made.Tempo;
        var from = change?.From is { } said ? Mark(said) : (TempoMark?)null;
        if (_isStated && change?.From is null && IsPlayed(index) && (change?.To is null || change.OverBars is not null || from is null))
        {
            from = Of(_wholes[index] * _factors[index], index);
        }

        return made with
        {
            Join = null,
            Tempo = change is null && from is null ? null : new TempoChange(from, change?.To is { } to ? Mark(to) : null, change?.OverBars) { After = After(change?.After) },
            Ramps = [.. made.Ramps.Select(ramp => ramp with { To = Mark(ramp.To), After = After(ramp.After) })],
        };
    }

    /// <summary>The chart with its tempi; its feel and what is counted follow from them.</summary>
    public Chart Apply(Chart made)
    {
        var first = _source.Form[0].Section;
        var isRecut = Enumerable.Range(0, _factors.Length).Any(section => TreatmentOf(section).BeatAfter is null);
        return made with
        {
            Tempo = Converted(_source.Tempo, _source.Sections[first], first),
            LearnerTempo = _source.LearnerTempo is { } learner ? Converted(learner, _source.Sections[first], first) : null,
            Feel = null,
            Counted = null,
            Swing = isRecut ? Rational.One : _source.Swing,
        };
    }

    private static BarMeter? MostCommon(IEnumerable<Section> sections) =>
        sections.SelectMany(section => section.Bars).GroupBy(bar => bar.Meter).MaxBy(group => group.Count())?.Key;

    private Treatment TreatmentOf(int section) => _options.Sections.GetValueOrDefault(_source.Sections[section].Name, _options.Treatment);

    private bool IsPlayed(int section) => _source.Form.Concat(_source.Tag).Any(step => step.Section == section);

    private Rational Factor(Treatment treatment, BarMeter usual) =>
        _options.Tempo == RecastTempo.SameNotes || (treatment.BeatAfter is not null && _options.Tempo == RecastTempo.Usual)
            ? Rational.One
            : treatment.To.Length / treatment.LengthIn(usual);

    private TempoMark Converted(TempoMark mark, Section section, int index)
    {
        var meter = section.Bars[0].Meter;
        if (mark.Level == TempoLevel.Note && _factors[index] == Rational.One)
        {
            return mark;
        }

        return Of(mark.At(meter, meter.Length * section.BarGroups.Pattern[0]).WholesPerMinute * _factors[index], index);
    }

    private TempoMark Of(Rational wholes, int section)
    {
        var unit = TreatmentOf(section).To.Unit;
        return new TempoMark(TempoLevel.Note, unit, new Tempo(wholes).PerMinute(unit)).Writable();
    }
}
