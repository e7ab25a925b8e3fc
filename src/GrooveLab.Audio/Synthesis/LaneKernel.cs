using System.Runtime.CompilerServices;
using System.Runtime.Intrinsics;

namespace GrooveLab.Audio.Synthesis;

/// <summary>
/// The inner loops of many voices side by side: filter, then gains into sums that stay separate by lane and are combined once a block.
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
        // Sixteen lanes in one vector are not faster, because each frame waits for the one before it.
        _ => Vector256.IsHardwareAccelerated ? new LaneKernel<Lanes256, Vector256<float>>()
            : new LaneKernel<Lanes128, Vector128<float>>(),
    };

    /// <summary>Filters in place.</summary>
    /// <param name="samples">A row of <see cref="VoiceLanes.Count"/> lanes for each frame.</param>
    /// <param name="fields">The first field of <see cref="VoiceLanes"/>.</param>
    /// <param name="frames">Rows.</param>
    /// <param name="lanes">The lanes in use, from the first on: half of them or all; the rest is idle.</param>
    public abstract void Filter(float* samples, float* fields, int frames, int lanes);

    /// <summary>Adds the samples to two sums by two gains.</summary>
    /// <param name="samples">A row of <see cref="VoiceLanes.Count"/> lanes for each frame.</param>
    /// <param name="gains">Two fields of gains, then the two of their steps.</param>
    /// <param name="first">Sums with the first gain, a vector for each frame.</param>
    /// <param name="second">Sums with the second gain.</param>
    /// <param name="frames">Rows.</param>
    /// <param name="lanes">The lanes in use, from the first on: half of them or all; the rest is idle.</param>
    public abstract void Mix(float* samples, float* gains, float* first, float* second, int frames, int lanes);

    /// <summary>Adds the samples to one sum by a gain; bit for bit as <see cref="Mix"/> does for two.</summary>
    /// <param name="samples">A row of <see cref="VoiceLanes.Count"/> lanes for each frame.</param>
    /// <param name="gain">A field of gains; its steps are two fields further on.</param>
    /// <param name="sum">Sums with the gain, a vector for each frame.</param>
    /// <param name="frames">Rows.</param>
    /// <param name="lanes">The lanes in use, from the first on: half of them or all; the rest is idle.</param>
    public abstract void MixSingle(float* samples, float* gain, float* sum, int frames, int lanes);

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
    public override void Filter(float* samples, float* fields, int frames, int lanes)
    {
        unchecked
        {
            // Adding a zero step changes no bit, so resting filters skip it.
            var isAtRest = Blocks.AreZero(new ReadOnlySpan<float>(Field(fields, LaneField.A1Step), 3 * Row));
            // Several vectors at a time: each frame waits for the one before it, and the other vectors fill the wait.
            var lane = 0;
            for (; lane + (4 * TMath.Width) <= lanes; lane += 4 * TMath.Width)
            {
                if (isAtRest)
                    FilterFourAtRest(samples + lane, fields + lane, frames);
                else
                    FilterFour(samples + lane, fields + lane, frames);
            }
            for (; lane < lanes; lane += 2 * TMath.Width)
            {
                if (isAtRest)
                    FilterTwoAtRest(samples + lane, fields + lane, frames);
                else
                    FilterTwo(samples + lane, fields + lane, frames);
            }
        }
    }

    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    public override void Mix(float* samples, float* gains, float* first, float* second, int frames, int lanes)
    {
        unchecked
        {
            for (var lane = 0; lane < lanes; lane += 2 * TMath.Width)
                MixTwo(samples + lane, gains + lane, first, second, frames);
        }
    }

    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    public override void MixSingle(float* samples, float* gain, float* sum, int frames, int lanes)
    {
        unchecked
        {
            for (var lane = 0; lane < lanes; lane += 2 * TMath.Width)
                MixSingleTwo(samples + lane, gain + lane, sum, frames);
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
    private static void FilterFour(float* samples, float* fields, int frames)
    {
        unchecked
        {
            var fields1 = fields + TMath.Width;
            var fields2 = fields + (2 * TMath.Width);
            var fields3 = fields + (3 * TMath.Width);
            var f0 = new State(fields);
            var f1 = new State(fields1);
            var f2 = new State(fields2);
            var f3 = new State(fields3);
            for (var i = 0; i < frames; i++, samples += Row)
            {
                TMath.Store(f0.Next(TMath.Load(samples), fields), samples);
                TMath.Store(f1.Next(TMath.Load(samples + TMath.Width), fields1), samples + TMath.Width);
                TMath.Store(f2.Next(TMath.Load(samples + (2 * TMath.Width)), fields2), samples + (2 * TMath.Width));
                TMath.Store(f3.Next(TMath.Load(samples + (3 * TMath.Width)), fields3), samples + (3 * TMath.Width));
            }
            f0.Save(fields);
            f1.Save(fields1);
            f2.Save(fields2);
            f3.Save(fields3);
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
            for (var i = 0; i < frames; i++)
            {
                TMath.Store(f.NextAtRest(TMath.Load(samples + (i * Row)), fields), samples + (i * Row));
                TMath.Store(g.NextAtRest(TMath.Load(others + (i * Row)), otherFields), others + (i * Row));
            }
            f.Save(fields);
            g.Save(otherFields);
        }
    }

    [MethodImpl(MethodImplOptions.AggressiveOptimization | MethodImplOptions.NoInlining)]
    private static void FilterFourAtRest(float* samples, float* fields, int frames)
    {
        unchecked
        {
            var fields1 = fields + TMath.Width;
            var fields2 = fields + (2 * TMath.Width);
            var fields3 = fields + (3 * TMath.Width);
            var f0 = new State(fields);
            var f1 = new State(fields1);
            var f2 = new State(fields2);
            var f3 = new State(fields3);
            for (var i = 0; i < frames; i++, samples += Row)
            {
                TMath.Store(f0.NextAtRest(TMath.Load(samples), fields), samples);
                TMath.Store(f1.NextAtRest(TMath.Load(samples + TMath.Width), fields1), samples + TMath.Width);
                TMath.Store(f2.NextAtRest(TMath.Load(samples + (2 * TMath.Width)), fields2), samples + (2 * TMath.Width));
                TMath.Store(f3.NextAtRest(TMath.Load(samples + (3 * TMath.Width)), fields3), samples + (3 * TMath.Width));
            }
            f0.Save(fields);
            f1.Save(fields1);
            f2.Save(fields2);
            f3.Save(fields3);
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

    // A processor with vectors of 512 bits has 32 registers, others have 16.
    private static bool HasManyRegisters => Vector512.IsHardwareAccelerated;

    /// <summary>
    /// The filter's state from frame to frame. With few registers, the coefficients stay in memory: what waits for the frame before must not
    /// leave its register. The steps always stay in memory.
    /// </summary>
    [method: MethodImpl(MethodImplOptions.AggressiveInlining)]
    private struct State(float* fields)
    {
        private TVector _first = TMath.Load(Field(fields, LaneField.Filter1));
        private TVector _second = TMath.Load(Field(fields, LaneField.Filter2));

        // Unused with few registers.
        private TVector _a1 = TMath.Load(Field(fields, LaneField.A1));
        private TVector _a2 = TMath.Load(Field(fields, LaneField.A2));
        private TVector _a3 = TMath.Load(Field(fields, LaneField.A3));

        /// <summary>Moves the coefficients by their steps, then filters.</summary>
        [MethodImpl(MethodImplOptions.AggressiveInlining)]
        public TVector Next(TVector sample, float* fields)
        {
            if (HasManyRegisters)
            {
                _a1 = TMath.Add(_a1, TMath.Load(Field(fields, LaneField.A1Step)));
                _a2 = TMath.Add(_a2, TMath.Load(Field(fields, LaneField.A2Step)));
                _a3 = TMath.Add(_a3, TMath.Load(Field(fields, LaneField.A3Step)));
                return Filtered(sample, fields, _a1, _a2, _a3);
            }
            return Filtered(
                sample, fields, Moved(fields, LaneField.A1, LaneField.A1Step), Moved(fields, LaneField.A2, LaneField.A2Step),
                Moved(fields, LaneField.A3, LaneField.A3Step));
        }

        /// <summary>Filters with coefficients at rest.</summary>
        [MethodImpl(MethodImplOptions.AggressiveInlining)]
        public TVector NextAtRest(TVector sample, float* fields) => HasManyRegisters
            ? Filtered(sample, fields, _a1, _a2, _a3)
            : Filtered(
                sample, fields, TMath.Load(Field(fields, LaneField.A1)), TMath.Load(Field(fields, LaneField.A2)), TMath.Load(Field(fields, LaneField.A3)));

        [MethodImpl(MethodImplOptions.AggressiveInlining)]
        private TVector Filtered(TVector sample, float* fields, TVector a1, TVector a2, TVector a3)
        {
            var input = TMath.Subtract(sample, _second);
            var band = TMath.MultiplyAdd(a1, _first, TMath.Multiply(a2, input));
            var low = TMath.MultiplyAdd(a3, input, TMath.MultiplyAdd(a2, _first, _second));
            _first = TMath.TwiceMinus(band, _first);
            // While the filter is off its state follows the sound, as if it had settled there.
            var mask = TMath.Load(Field(fields, LaneField.FilterMask));
            _second = TMath.Select(mask, TMath.TwiceMinus(low, _second), sample);
            return TMath.Select(mask, low, sample);
        }

        [MethodImpl(MethodImplOptions.AggressiveInlining)]
        public readonly void Save(float* fields)
        {
            TMath.Store(_first, Field(fields, LaneField.Filter1));
            TMath.Store(_second, Field(fields, LaneField.Filter2));
            if (HasManyRegisters)
            {
                TMath.Store(_a1, Field(fields, LaneField.A1));
                TMath.Store(_a2, Field(fields, LaneField.A2));
                TMath.Store(_a3, Field(fields, LaneField.A3));
            }
        }

        [MethodImpl(MethodImplOptions.AggressiveInlining)]
        private static TVector Moved(float* fields, LaneField coefficient, LaneField step)
        {
            var moved = TMath.Add(TMath.Load(Field(fields, coefficient)), TMath.Load(Field(fields, step)));
            TMath.Store(moved, Field(fields, coefficient));
            return moved;
        }
    }
}
