# Two stages on one plain Debian 12: the first builds, the second holds Python, the result and nothing to build with.
ARG BASE=debian:bookworm-slim

FROM ${BASE} AS build
RUN apt-get update \
    && apt-get install -y --no-install-recommends python3-venv \
    && rm -rf /var/lib/apt/lists/*
COPY .ci/lock/build.txt .ci/lock/run.txt /lock/
# The tools get an environment of their own, so that none of them has to be taken out of the one that is handed on.
# What libraries bring to test themselves stays behind.
RUN python3 -m venv /opt/tools \
    && python3 -m venv --without-pip /opt/wheelwork \
    && /opt/tools/bin/pip install --no-cache-dir --require-hashes -r /lock/build.txt \
    && /opt/tools/bin/pip --python /opt/wheelwork/bin/python install --no-cache-dir --require-hashes -r /lock/run.txt \
    && find /opt/wheelwork -type d -name tests -prune -exec rm -r {} +
WORKDIR /source
COPY . .
RUN /opt/tools/bin/pip wheel --no-cache-dir --no-deps --no-index --no-build-isolation --wheel-dir /wheel . \
    && /opt/tools/bin/pip --python /opt/wheelwork/bin/python install --no-cache-dir --no-deps --no-index /wheel/*.whl

FROM ${BASE}
RUN apt-get update \
    && apt-get install -y --no-install-recommends python3 \
    && rm -rf /var/lib/apt/lists/* \
    && groupadd --gid 10001 wheelwork \
    && useradd --uid 10001 --gid 10001 --home-dir /data --no-create-home --shell /usr/sbin/nologin wheelwork \
    && install -d -o 10001 -g 10001 /data /data/parts
COPY --from=build /opt/wheelwork /opt/wheelwork
# The address stands here and not in CMD: so `docker run wheelwork serve --workers 2` can be reached too.
ENV PATH=/opt/wheelwork/bin:$PATH \
    PYTHONDONTWRITEBYTECODE=1 \
    PYTHONUNBUFFERED=1 \
    WHEELWORK_DATA=/data \
    WHEELWORK_HOST=0.0.0.0 \
    WHEELWORK_PORT=8000
USER 10001:10001
WORKDIR /data
VOLUME /data
EXPOSE 8000
# http.client, for urllib would ask a proxy that the environment names.
HEALTHCHECK --interval=30s --timeout=5s --start-period=10s CMD ["python3", "-c", "import http.client, os, sys; c = http.client.HTTPConnection('127.0.0.1', int(os.environ['WHEELWORK_PORT']), timeout=4); c.request('GET', '/healthz'); sys.exit(c.getresponse().status != 200)"]
ENTRYPOINT ["wheelwork"]
CMD ["serve"]
