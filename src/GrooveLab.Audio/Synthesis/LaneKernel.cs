using System.Runtime.CompilerServices;
using System.Runtime.Intrinsics;

namespace GrooveLab.Audio.Synthesis;

/// <summary>
/// The inner loops of sixteen voices side by side: filter, then gains into sums that stay separate by lane and are combined once a block.
/// A voice keeps its lane for life and an idle lane adds nothing, so a lane never depends on its neighbours or on how the frames are
/// split.
/// </summary>
internal abstract unsafe class LaneKernel
{
    /// <summary>The number of lanes in a vector, and in a frame's sums.</summary>
    public abstract int Width { get; }

    /// <summary>The kernel of a width; null for the scalar one.</summary>
    public static LaneKernel? Of(KernelWidth width) => width switch
    {
        KernelWidth.Scalar => null,
        KernelWidth.Vector128 => new LaneKernel<Lanes128, Vector128<float>>(),
        KernelWidth.Vector256 => new LaneKernel<Lanes256, Vector256<float>>(),
        KernelWidth.Vector512 => new LaneKernel<Lanes512, Vector512<float>>(),
        // Sixteen lanes in one vector are not faster, because each frame waits for the one before it, and they cannot be precompiled for most processors.
        _ => Vector256.IsHardwareAccelerated ? new LaneKernel<Lanes256, Vector256<float>>()
            : new LaneKernel<Lanes128, Vector128<float>>(),
    };

    /// <summary>Filters in place.</summary>
    /// <param name="samples">A row of sixteen lanes for each frame.</param>
    /// <param name="fields">The first field of <see cref="VoiceLanes"/>.</param>
    /// <param name="frames">Rows.</param>
    public abstract void Filter(float* samples, float* fields, int frames);

    /// <summary>Adds the samples to two sums by two gains.</summary>
    /// <param name="samples">A row of sixteen lanes for each frame.</param>
    /// <param name="gains">Two fields of gains, then the two of their steps.</param>
    /// <param name="first">Sums with the first gain, a vector for each frame.</param>
    /// <param name="second">Sums with the second gain.</param>
    /// <param name="frames">Rows.</param>
    public abstract void Mix(float* samples, float* gains, float* first, float* second, int frames);

    /// <summary>Adds the samples to one sum by a gain; bit for bit as <see cref="Mix"/> does for two.</summary>
    /// <param name="samples">A row of sixteen lanes for each frame.</param>
    /// <param name="gain">A field of gains; its steps are two fields further on.</param>
    /// <param name="sum">Sums with the gain, a vector for each frame.</param>
    /// <param name="frames">Rows.</param>
    public abstract void MixSingle(float* samples, float* gain, float* sum, int frames);

    /// <summary>Adds up each frame's lanes and adds the result to the output.</summary>
    public abstract void Collect(float* sums, Span<float> output);
}

/// <inheritdoc/>
internal sealed unsafe class LaneKernel<TMath, TVector> : LaneKernel
    where TMath : struct, ILaneMath<TVector>
    where TVector : struct
{
    private const int Row = VoiceLanes.Count;

    public override int Width => TMath.Width;

    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    public override void Filter(float* samples, float* fields, int frames)
    {
        unchecked
        {
            // Adding a zero step changes no bit, so resting filters skip it.
            var isAtRest = Blocks.AreZero(new ReadOnlySpan<float>(Field(fields, LaneField.A1Step), 3 * Row));
            // Two vectors at a time: each frame waits for the one before it, and the second vector fills the wait.
            if (TMath.Width == Row)
                FilterOne(samples, fields, frames);
            else if (isAtRest)
            {
                for (var lane = 0; lane < Row; lane += 2 * TMath.Width)
                    FilterTwoAtRest(samples + lane, fields + lane, frames);
            }
            else
            {
                for (var lane = 0; lane < Row; lane += 2 * TMath.Width)
                    FilterTwo(samples + lane, fields + lane, frames);
            }
        }
    }

    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    public override void Mix(float* samples, float* gains, float* first, float* second, int frames)
    {
        unchecked
        {
            if (TMath.Width == Row)
                MixOne(samples, gains, first, second, frames);
            else
            {
                for (var lane = 0; lane < Row; lane += 2 * TMath.Width)
                    MixTwo(samples + lane, gains + lane, first, second, frames);
            }
        }
    }

    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    public override void MixSingle(float* samples, float* gain, float* sum, int frames)
    {
        unchecked
        {
            if (TMath.Width == Row)
                MixSingleOne(samples, gain, sum, frames);
            else
            {
                for (var lane = 0; lane < Row; lane += 2 * TMath.Width)
                    MixSingleTwo(samples + lane, gain + lane, sum, frames);
            }
        }
    }

    [MethodImpl(MethodImplOptions.AggressiveOptimization | MethodImplOptions.NoInlining)]
    public override void Collect(float* sums, Span<float> output)
    {
        unchecked
        {
            for (var i = 0; i < output.Length; i++)
                output[i] += TMath.Sum(TMath.Load(sums + (i * TMath.Width)));
        }
    }

    [MethodImpl(MethodImplOptions.AggressiveOptimization | MethodImplOptions.NoInlining)]
    private static void FilterOne(float* samples, float* fields, int frames)
    {
        unchecked
        {
            var f = new State(fields);
            for (var i = 0; i < frames; i++)
                TMath.Store(f.Next(TMath.Load(samples + (i * Row)), fields), samples + (i * Row));
            f.Save(fields);
        }
    }

    [MethodImpl(MethodImplOptions.AggressiveOptimization | MethodImplOptions.NoInlining)]
    private static void FilterTwo(float* samples, float* fields, int frames)
    {
        unchecked
        {
            var otherFields = fields + TMath.Width;
            var others = samples + TMath.Width;
            var f = new State(fields);
            var g = new State(otherFields);
            for (var i = 0; i < frames; i++)
            {
                TMath.Store(f.Next(TMath.Load(samples + (i * Row)), fields), samples + (i * Row));
                TMath.Store(g.Next(TMath.Load(others + (i * Row)), otherFields), others + (i * Row));
            }
            f.Save(fields);
            g.Save(otherFields);
        }
    }

    [MethodImpl(MethodImplOptions.AggressiveOptimization | MethodImplOptions.NoInlining)]
    private static void FilterTwoAtRest(float* samples, float* fields, int frames)
    {
        unchecked
        {
            var otherFields = fields + TMath.Width;
            var others = samples + TMath.Width;
            var f = new State(fields);
            var g = new State(otherFields);
            var mask = TMath.Load(Field(fields, LaneField.FilterMask));
            var otherMask = TMath.Load(Field(otherFields, LaneField.FilterMask));
            for (var i = 0; i < frames; i++)
            {
                TMath.Store(f.Filtered(TMath.Load(samples + (i * Row)), mask), samples + (i * Row));
                TMath.Store(g.Filtered(TMath.Load(others + (i * Row)), otherMask), others + (i * Row));
            }
            f.Save(fields);
            g.Save(otherFields);
        }
    }

    [MethodImpl(MethodImplOptions.AggressiveOptimization | MethodImplOptions.NoInlining)]
    private static void MixOne(float* samples, float* gains, float* first, float* second, int frames)
    {
        unchecked
        {
            var a = TMath.Load(gains);
            var b = TMath.Load(gains + Row);
            var aStep = TMath.Load(gains + (2 * Row));
            var bStep = TMath.Load(gains + (3 * Row));
            for (var i = 0; i < frames; i++)
            {
                a = TMath.Add(a, aStep);
                b = TMath.Add(b, bStep);
                var s = TMath.Load(samples);
                TMath.Store(TMath.MultiplyAdd(s, a, TMath.Load(first)), first);
                TMath.Store(TMath.MultiplyAdd(s, b, TMath.Load(second)), second);
                samples += Row;
                first += TMath.Width;
                second += TMath.Width;
            }
            TMath.Store(a, gains);
            TMath.Store(b, gains + Row);
        }
    }

    /// <summary>Two vectors at once, so that the sums are loaded and stored half as often.</summary>
    [MethodImpl(MethodImplOptions.AggressiveOptimization | MethodImplOptions.NoInlining)]
    private static void MixTwo(float* samples, float* gains, float* first, float* second, int frames)
    {
        unchecked
        {
            var others = gains + TMath.Width;
            var a = TMath.Load(gains);
            var b = TMath.Load(gains + Row);
            var aStep = TMath.Load(gains + (2 * Row));
            var bStep = TMath.Load(gains + (3 * Row));
            var c = TMath.Load(others);
            var d = TMath.Load(others + Row);
            var cStep = TMath.Load(others + (2 * Row));
            var dStep = TMath.Load(others + (3 * Row));
            for (var i = 0; i < frames; i++)
            {
                a = TMath.Add(a, aStep);
                b = TMath.Add(b, bStep);
                c = TMath.Add(c, cStep);
                d = TMath.Add(d, dStep);
                var s = TMath.Load(samples);
                var t = TMath.Load(samples + TMath.Width);
                TMath.Store(TMath.MultiplyAdd(t, c, TMath.MultiplyAdd(s, a, TMath.Load(first))), first);
                TMath.Store(TMath.MultiplyAdd(t, d, TMath.MultiplyAdd(s, b, TMath.Load(second))), second);
                samples += Row;
                first += TMath.Width;
                second += TMath.Width;
            }
            TMath.Store(a, gains);
            TMath.Store(b, gains + Row);
            TMath.Store(c, others);
            TMath.Store(d, others + Row);
        }
    }

    [MethodImpl(MethodImplOptions.AggressiveOptimization | MethodImplOptions.NoInlining)]
    private static void MixSingleOne(float* samples, float* gain, float* sum, int frames)
    {
        unchecked
        {
            var a = TMath.Load(gain);
            var step = TMath.Load(gain + (2 * Row));
            for (var i = 0; i < frames; i++)
            {
                a = TMath.Add(a, step);
                TMath.Store(TMath.MultiplyAdd(TMath.Load(samples), a, TMath.Load(sum)), sum);
                samples += Row;
                sum += TMath.Width;
            }
            TMath.Store(a, gain);
        }
    }

    [MethodImpl(MethodImplOptions.AggressiveOptimization | MethodImplOptions.NoInlining)]
    private static void MixSingleTwo(float* samples, float* gain, float* sum, int frames)
    {
        unchecked
        {
            var other = gain + TMath.Width;
            var a = TMath.Load(gain);
            var b = TMath.Load(other);
            var aStep = TMath.Load(gain + (2 * Row));
            var bStep = TMath.Load(other + (2 * Row));
            for (var i = 0; i < frames; i++)
            {
                a = TMath.Add(a, aStep);
                b = TMath.Add(b, bStep);
                TMath.Store(TMath.MultiplyAdd(TMath.Load(samples + TMath.Width), b, TMath.MultiplyAdd(TMath.Load(samples), a, TMath.Load(sum))), sum);
                samples += Row;
                sum += TMath.Width;
            }
            TMath.Store(a, gain);
            TMath.Store(b, other);
        }
    }

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    private static float* Field(float* fields, LaneField field) => unchecked(fields + ((int)field * Row));

    /// <summary>The filter's state from frame to frame; the steps stay in memory, because there are more of them than registers.</summary>
    [method: MethodImpl(MethodImplOptions.AggressiveInlining)]
    private struct State(float* fields)
    {
        private TVector _first = TMath.Load(Field(fields, LaneField.Filter1));
        private TVector _second = TMath.Load(Field(fields, LaneField.Filter2));
        private TVector _a1 = TMath.Load(Field(fields, LaneField.A1));
        private TVector _a2 = TMath.Load(Field(fields, LaneField.A2));
        private TVector _a3 = TMath.Load(Field(fields, LaneField.A3));

        [MethodImpl(MethodImplOptions.AggressiveInlining)]
        public TVector Next(TVector sample, float* fields)
        {
            var mask = TMath.Load(Field(fields, LaneField.FilterMask));
            _a1 = TMath.Add(_a1, TMath.Load(Field(fields, LaneField.A1Step)));
            _a2 = TMath.Add(_a2, TMath.Load(Field(fields, LaneField.A2Step)));
            _a3 = TMath.Add(_a3, TMath.Load(Field(fields, LaneField.A3Step)));
            return Filtered(sample, mask);
        }

        [MethodImpl(MethodImplOptions.AggressiveInlining)]
        public TVector Filtered(TVector sample, TVector mask)
        {
            var input = TMath.Subtract(sample, _second);
            var band = TMath.MultiplyAdd(_a1, _first, TMath.Multiply(_a2, input));
            var low = TMath.MultiplyAdd(_a3, input, TMath.MultiplyAdd(_a2, _first, _second));
            _first = TMath.Subtract(TMath.Add(band, band), _first);
            // While the filter is off its state follows the sound, as if it had settled there.
            _second = TMath.Select(mask, TMath.Subtract(TMath.Add(low, low), _second), sample);
            return TMath.Select(mask, low, sample);
        }

        [MethodImpl(MethodImplOptions.AggressiveInlining)]
        public readonly void Save(float* fields)
        {
            TMath.Store(_first, Field(fields, LaneField.Filter1));
            TMath.Store(_second, Field(fields, LaneField.Filter2));
            TMath.Store(_a1, Field(fields, LaneField.A1));
            TMath.Store(_a2, Field(fields, LaneField.A2));
            TMath.Store(_a3, Field(fields, LaneField.A3));
        }
    }
}
